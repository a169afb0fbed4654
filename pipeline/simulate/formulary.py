"""What the invented clinic gives: doses within published ranges, concentrations, packs and units.

Ranges [mg/kg; infusions mg/kg/h] lie inside those of dose sheets, labels and guidelines for dogs and
cats (a 2022 anesthesia dose sheet, the AAHA 2020 induction figure, a table of infusions, 21 CFR 522,
product characteristics). Rabbits get what their labels and the cat's ranges allow.
"""

from typing import NamedTuple


class Drug(NamedTuple):
    """mg_ml: concentration; pack_ml: volume of a pack; units: how people write a dose, by share;
    control: its class in the invented clinic's book; lead_days and price are invented."""

    mg_ml: float
    pack_ml: float
    units: dict[str, float]
    control: str = ""
    open_days: int | None = None
    lead_days: int = 5
    price: float = 10.0


PER_KG = {"mg/kg": 0.6, "mg": 0.25, "mL": 0.15}
BOTH = {"mg/kg": 0.5, "mcg/kg": 0.3, "mL": 0.2}
SMALL = {"mcg/kg": 0.65, "mcg": 0.2, "mL": 0.15}

DRUGS = {
    "acepromazine": Drug(2, 20, PER_KG, open_days=28),
    "alfaxalone": Drug(10, 20, PER_KG, open_days=28, price=42),
    "atipamezole": Drug(5, 10, PER_KG, open_days=28, price=30),
    "atropine": Drug(0.5, 1, PER_KG, price=2),
    "bupivacaine": Drug(5, 20, PER_KG, open_days=1, price=6),
    "buprenorphine": Drug(0.3, 10, BOTH, "schedule 3", open_days=28, lead_days=7, price=40),
    "butorphanol": Drug(10, 10, PER_KG, open_days=28, price=35),
    "carprofen": Drug(50, 20, PER_KG, open_days=28, price=28),
    "cefazolin": Drug(100, 10, PER_KG, open_days=1, price=4),
    "dexmedetomidine": Drug(0.5, 10, SMALL, open_days=28, price=60),
    "dopamine": Drug(40, 5, {"mcg/kg/min": 1.0}, price=5),
    "ephedrine": Drug(5, 10, PER_KG, open_days=1, price=9),
    "epinephrine": Drug(1, 1, {"mg/kg": 0.5, "mL": 0.5}, price=2),
    "fentanyl": Drug(0.05, 10, SMALL, "schedule 2", lead_days=7, price=4),
    "glycopyrrolate": Drug(0.2, 1, {"mg/kg": 0.6, "mL": 0.4}, price=3),
    "hydromorphone": Drug(2, 10, PER_KG, "schedule 2", open_days=28, lead_days=7, price=22),
    "ketamine": Drug(100, 10, PER_KG, "schedule 2", open_days=28, lead_days=7, price=12),
    "lidocaine": Drug(20, 50, PER_KG, open_days=28, price=7),
    "maropitant": Drug(10, 20, PER_KG, open_days=28, price=65),
    "meloxicam": Drug(5, 20, PER_KG, open_days=28, price=35),
    "methadone": Drug(10, 10, PER_KG, "schedule 2", open_days=28, lead_days=10, price=32),
    "midazolam": Drug(5, 10, PER_KG, "schedule 3", open_days=1, lead_days=7, price=6),
    "morphine": Drug(10, 1, PER_KG, "schedule 2", lead_days=7, price=2),
    "neostigmine": Drug(0.5, 1, {"mg/kg": 0.7, "mL": 0.3}, price=3),
    "norepinephrine": Drug(1, 4, {"mcg/kg/min": 1.0}, price=8),
    "propofol": Drug(10, 20, {"mg/kg": 0.5, "mg": 0.2, "mL": 0.3}, open_days=1, lead_days=4, price=5),
    "robenacoxib": Drug(20, 20, PER_KG, open_days=28, price=38),
    "rocuronium": Drug(10, 5, PER_KG, open_days=28, price=14),
}  # fmt: skip

# Rates people write, by drug; the amount drawn here is mg/kg/h.
RATE_UNITS = {
    "fentanyl": {"mcg/kg/h": 0.75, "mL/h": 0.25},
    "ketamine": {"mcg/kg/min": 0.8, "mg/kg/h": 0.2},
    "lidocaine": {"mcg/kg/min": 0.85, "mg/h": 0.15},
    "propofol": {"mg/kg/h": 0.6, "mL/h": 0.4},
    "alfaxalone": {"mg/kg/h": 0.6, "mL/h": 0.4},
    "dopamine": {"mcg/kg/min": 1.0},
    "norepinephrine": {"mcg/kg/min": 1.0},
    "dexmedetomidine": {"mcg/kg/h": 0.8, "mL/h": 0.2},
}

CONTROLLED = tuple(name for name, drug in DRUGS.items() if drug.control)
