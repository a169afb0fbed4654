"""Which drugs each case gets, and why: a plan by species, illness and procedure, and what was given
when something went wrong."""

import numpy as np
import pandas as pd

from pipeline.simulate.doses import Chart
from pipeline.simulate.formulary import CONTROLLED


def drugs(cases: pd.DataFrame, acts: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Drug rows of these cases; case and minute as in acts, minute from induction."""
    chart = Chart(cases, rng)
    _premedication(chart)
    _induction(chart)
    _maintenance(chart)
    _local_and_other(chart)
    _rescue(chart, acts)
    _recovery(chart)
    rows = chart.table()
    of = cases.iloc[rows.case.to_numpy()]
    led = (of.trainee_role == "primary").to_numpy() & (rng.random(len(rows)) < 0.6)
    rows["given_by"] = np.where(led, of.trainee, of.anesthetist)
    second = np.where(rng.random(len(rows)) < 0.7, of.supervisor, np.where(led, of.anesthetist, of.supervisor))
    rows["witnessed_by"] = np.where(rows.drug.isin(CONTROLLED), second, None)
    return rows


def _kinds(chart: Chart):
    cases = chart.cases
    return ((cases.species == name).to_numpy() for name in ("dog", "cat", "rabbit"))


def _premedication(chart: Chart) -> None:
    cases, rng, n = chart.cases, chart.rng, len(chart.cases)
    dog, cat, rabbit = _kinds(chart)
    at, pain, asa = cases.m_premed.to_numpy(), cases.pain.to_numpy(), cases.asa_class.to_numpy()
    draw = rng.random(n)
    mild = (pain == 0) & ~rabbit
    butorphanol = mild & (draw < 0.6)
    buprenorphine = ((mild | (cat & (pain == 1))) & ~butorphanol & (draw < 0.85)) | (rabbit & (draw < 0.8))
    other = ~butorphanol & ~buprenorphine
    hydromorphone, fentanyl = other & dog & (draw > 0.9), other & (asa > 3) & (draw < 0.4)
    methadone = other & ~hydromorphone & ~fentanyl
    chart.bolus(butorphanol, "butorphanol", "premedication", "im", at, 0.2, np.where(cat, 0.4, 0.35))
    chart.bolus(
        buprenorphine,
        "buprenorphine",
        "premedication",
        "im",
        at,
        np.where(cat, 0.02, 0.012),
        np.where(cat, 0.024, 0.02),
    )
    chart.bolus(hydromorphone, "hydromorphone", "premedication", "im", at, 0.05, 0.12)
    chart.bolus(fentanyl, "fentanyl", "premedication", "iv", at, 0.002, np.where(dog, 0.005, 0.004))
    chart.bolus(methadone, "methadone", "premedication", "im", at, 0.2, 0.3)
    chart.bolus(cases.gets_acepromazine, "acepromazine", "premedication", "im", at, 0.01, 0.03)
    chart.bolus(cases.gets_alpha2 & dog, "dexmedetomidine", "premedication", "im", at, 0.002, 0.008)
    chart.bolus(cases.gets_alpha2 & cat, "dexmedetomidine", "premedication", "im", at, 0.005, 0.01)
    chart.bolus(
        rabbit | ((asa > 2) & (rng.random(n) < 0.5)),
        "midazolam",
        "premedication",
        "im",
        at,
        0.2,
        np.where(cat, 0.3, 0.35),
    )
    vomits = dog & (rng.random(n) < 0.3)
    chart.bolus(vomits, "maropitant", "premedication", "sc", at - 5, 1.0, 1.0)


def _induction(chart: Chart) -> None:
    cases, rng, n = chart.cases, chart.rng, len(chart.cases)
    dog, cat, rabbit = _kinds(chart)
    asa = cases.asa_class.to_numpy()
    draw = rng.random(n)
    alfaxalone = rabbit | (draw < np.where(cat, 0.45, 0.2))
    ketamine = ~alfaxalone & (draw > np.where(asa > 2, 0.72, 0.93))
    propofol = ~alfaxalone & ~ketamine
    less = np.where(cases.gets_alpha2 | (asa > 3), 0.6, 1.0)
    chart.bolus(propofol & dog, "propofol", "induction", "iv", 0.0, 2.0, np.maximum(2.4, 5.0 * less))
    chart.bolus(propofol & cat, "propofol", "induction", "iv", 0.0, 6.0, 8.0)
    chart.bolus(alfaxalone & dog, "alfaxalone", "induction", "iv", 0.0, 1.0, np.maximum(1.5, 2.8 * less))
    chart.bolus(
        alfaxalone & ~dog, "alfaxalone", "induction", "iv", 0.0, np.where(rabbit, 4.0, 2.0), np.where(rabbit, 5.0, 3.6)
    )
    chart.bolus(ketamine, "ketamine", "induction", "iv", 0.0, 2.0, 4.0)
    chart.bolus(ketamine, "midazolam", "induction", "iv", 0.0, 0.2, 0.3)
    blocked = (cases.does_epidural | cases.does_nerve_block | cases.does_local_infiltration).to_numpy()
    chart.bolus(cat & ~blocked & (rng.random(n) < 0.75), "lidocaine", "induction", "topical", 1.0, 1.0, 2.0)


def _maintenance(chart: Chart) -> None:
    cases, rng, n = chart.cases, chart.rng, len(chart.cases)
    dog, cat, _ = _kinds(chart)
    ready = cases.m_intubation.fillna(2).to_numpy() + 4
    off, over = cases.m_off.to_numpy(), np.minimum(cases.m_procedure_end.fillna(1e6), cases.m_off).to_numpy()
    infused = cases.does_analgesic_infusion.to_numpy()
    draw = rng.random(n)
    chart.infusion(infused & (draw < 0.7), "fentanyl", "maintenance", ready + 6, over, 0.005, 0.012)
    chart.infusion(infused & dog & (draw > 0.45), "lidocaine", "maintenance", ready + 8, over, 1.5, 2.7)
    chart.infusion(infused & (draw > 0.3) & (draw < 0.75), "ketamine", "maintenance", ready + 7, over, 0.3, 0.6)
    tiva = cases.does_tiva.to_numpy()
    turn = np.round(off * 0.5)
    for start, stop, high in ((ready - 3, turn, 22.0), (turn, off, 17.0)):
        chart.infusion(tiva & ~cat & (draw < 0.65), "propofol", "maintenance", start, stop, 11.0, high)
        chart.infusion(
            tiva & (cat | (draw >= 0.65)), "alfaxalone", "maintenance", start, stop, 3.5, np.minimum(high / 3, 7.0)
        )
    for shot in range(3):
        late = cases.m_procedure_start.to_numpy() + 25 + 45 * shot
        more = (cases.pain > 1).to_numpy() & ~infused & (late < over - 5) & (rng.random(n) < 0.3)
        chart.bolus(more, "fentanyl", "maintenance", "iv", late, 0.002, np.where(dog, 0.005, 0.004))
    block = cases.does_neuromuscular_block.to_numpy()
    chart.bolus(block, "rocuronium", "maintenance", "iv", ready + 6, 0.3, 0.5)
    chart.bolus(block, "neostigmine", "maintenance", "iv", off - 6, 0.02, 0.04)
    chart.bolus(block, "glycopyrrolate", "maintenance", "iv", off - 7, 0.01, 0.012)


def _local_and_other(chart: Chart) -> None:
    cases, rng, n = chart.cases, chart.rng, len(chart.cases)
    dog, cat, rabbit = _kinds(chart)
    prepared = np.maximum(cases.m_procedure_start.fillna(20).to_numpy() - 8, 6)
    block, here = cases.does_nerve_block.to_numpy(), cases.does_local_infiltration.to_numpy()
    draw = rng.random(n)
    chart.bolus(block & (draw < 0.75), "bupivacaine", "maintenance", "perineural", prepared, 1.0, 1.5)
    chart.bolus(block & (draw >= 0.75), "lidocaine", "maintenance", "perineural", prepared, 1.0, 2.2)
    chart.bolus(here, "lidocaine", "maintenance", "infiltration", prepared + 4, 1.0, 2.2)
    chart.bolus(cases.does_epidural, "morphine", "maintenance", "epidural", prepared - 4, 0.1, 0.12)
    chart.bolus(cases.does_epidural & (draw < 0.8), "bupivacaine", "maintenance", "epidural", prepared - 4, 1.0, 1.2)
    surgical = cases.group.isin(["soft_tissue", "orthopedic", "neurologic", "obstetric"]).to_numpy() & ~rabbit
    clean = surgical & (rng.random(n) < 0.72)
    end = np.minimum(cases.m_procedure_end.fillna(1e6), cases.m_off).to_numpy()
    for again in range(3):
        at = 8.0 + 90 * again
        chart.bolus(clean & (at < end), "cefazolin", "induction" if again == 0 else "maintenance", "iv", at, 22.0, 22.0)
    fit = (cases.asa_class < 3).to_numpy() & (cases.group != "imaging").to_numpy()
    draw = rng.random(n)
    chart.bolus(fit & dog & (draw < 0.4), "carprofen", "induction", "sc", 6.0, 4.0, 4.0)
    chart.bolus(fit & (draw > 0.62) & (draw < 0.9), "meloxicam", "induction", "sc", 6.0, 0.2, 0.2)
    chart.bolus(fit & cat & (draw < 0.3), "robenacoxib", "induction", "sc", 6.0, 2.0, 2.0)


def _rescue(chart: Chart, acts: pd.DataFrame) -> None:
    n = len(chart.cases)
    strong = (chart.cases.asa_class > 2).to_numpy() & (chart.cases.pressure == "invasive").to_numpy()
    off = chart.cases.m_off.to_numpy()
    for kind in ("pressor", "pressor_infusion", "anticholinergic"):
        first = acts[acts.kind == kind].groupby("case").minute.min()
        at = np.full(n, np.nan)
        at[first.index.to_numpy(int)] = first.to_numpy() + 1
        here = ~np.isnan(at)
        if kind == "pressor":
            chart.bolus(here & ~strong, "ephedrine", "rescue", "iv", at, 0.05, 0.15)
            chart.infusion(here & strong, "norepinephrine", "rescue", at, off - 2, 0.012, 0.03)
        elif kind == "pressor_infusion":
            chart.infusion(here, "dopamine", "rescue", at, off - 2, 0.3, 0.6)
        else:
            some = chart.rng.random(n) < 0.5
            chart.bolus(here & some, "atropine", "rescue", "iv", at, 0.02, 0.03)
            chart.bolus(here & ~some, "glycopyrrolate", "rescue", "iv", at, 0.01, 0.012)
    dies = chart.cases.dies_during.to_numpy()
    chart.bolus(dies, "epinephrine", "rescue", "iv", off - 5, 0.01, 0.01)
    chart.bolus(dies, "atropine", "rescue", "iv", off - 4, 0.04, 0.04)


def _recovery(chart: Chart) -> None:
    cases, rng, n = chart.cases, chart.rng, len(chart.cases)
    dog, _, rabbit = _kinds(chart)
    awake = cases.m_extubation.to_numpy()
    alive = ~np.isnan(cases.m_recovery_end.to_numpy())
    sore = alive & (cases.pain > 1).to_numpy() & ~rabbit & (rng.random(n) < 0.35)
    chart.bolus(sore, "methadone", "recovery", "iv", awake + 20, 0.1, 0.2)
    calm = alive & dog & cases.gets_dysphoria.to_numpy()
    chart.bolus(calm, "dexmedetomidine", "recovery", "iv", awake + 4, 0.001, 0.0015)
    wake = alive & cases.gets_alpha2.to_numpy() & ~calm & (rng.random(n) < 0.3)
    chart.bolus(wake, "atipamezole", "recovery", "im", awake + 2, 0.05, 0.1)
