"""What the monitors show of the body, and from when: rounding, sensors going on and coming off."""

import numpy as np
import pandas as pd

from pipeline.simulate.heat import temperature_at

GAS_EVERY = 3  # flows and dial are charted at every third mark and whenever they change


def oxygen_flow(cases: pd.DataFrame, minute: np.ndarray) -> np.ndarray:
    """Oxygen [L/min]: high at first and when the gas is off; non-rebreathing at least 200 mL/kg/min."""
    kg = cases.weight_kg.to_numpy()[:, None]
    off = cases.m_off.to_numpy()[:, None]
    circle = (cases.breathing_system == "rebreathing").to_numpy()[:, None]
    low = np.round(np.clip(0.03 * kg, 0.5, 1.2), 1)
    start = np.round(np.clip(0.07 * kg, 1.5, 3.0), 1)
    open_flow = np.round(np.maximum(0.24 * kg, 0.8), 1)
    return np.where(circle, np.where((minute < 15) | (minute >= off), start, low), open_flow)


def charted(cases: pd.DataFrame, rng, minute: np.ndarray, there: np.ndarray, kept: dict) -> dict[str, np.ndarray]:
    """One grid a parameter in canonical units, NaN where nothing was charted."""

    def column(values):
        return np.asarray(values)[:, None]

    def shown(value, where, digits=0):
        return np.where(there & where, np.round(value, digits), np.nan)

    always = np.ones_like(there)
    tube = column(cases.airway != "mask") & (minute >= column(cases.m_intubation.fillna(1e6)) + 1)
    cuff = column(cases.pressure == "oscillometric") | column(cases.pressure == "invasive")
    cuff_on = cuff & (minute >= np.where(column(cases.pressure == "invasive"), 20, 7))
    doppler = column(cases.pressure == "doppler") & (minute >= 7)
    pulse = np.clip(column(rng.normal(37, 6, len(cases))) + rng.normal(0, 2, there.shape), 18, 60)
    mean = np.clip(np.round(kept["map"]), 22, 190)
    values = {
        "heart_rate": shown(np.clip(kept["hr"], 22, 330), always),
        "respiratory_rate": shown(np.clip(kept["rr"], 3, 90), always),
        "spo2": shown(np.clip(kept["spo2"], 70, 100), minute >= 2),
        "etco2": shown(np.clip(kept["co2"], 18, 95), tube),
        "fico2": shown(np.clip(kept["fico2"] + 0.35 * rng.standard_normal(there.shape), 0, 25), tube),
        "sap": shown(np.clip(mean + 2 / 3 * pulse, 32, 240), cuff_on | doppler),
        "map": shown(mean, cuff_on),
        "dap": shown(np.clip(mean - 1 / 3 * pulse, 14, 180), cuff_on),
    }
    probe = column(rng.random(len(cases)) < 0.62)
    on = column(rng.integers(8, 19, len(cases)))
    mark = np.arange(there.shape[1])[None, :]
    often = np.where(probe, True, mark % 3 == 2)
    heat = temperature_at(cases, minute) + 0.05 * rng.standard_normal(there.shape)
    values["temperature"] = shown(heat, (minute >= on) & often, 1)
    values |= _gas(cases, rng, minute, kept, shown, column)
    values |= _ventilator(cases, rng, minute, shown, column)
    return values


def _gas(cases, rng, minute, kept, shown, column) -> dict:
    inhalant = column(cases.agent != "none")
    on, off = column(cases.m_vaporizer_on.fillna(0)), column(cases.m_off)
    dial, flow = np.nan_to_num(kept["dial"]), oxygen_flow(cases, minute)
    mark = np.arange(minute.shape[1])[None, :]

    def moved(grid):
        return np.diff(grid, axis=1, prepend=np.nan) != 0

    analyser = column(rng.random(len(cases)) < 0.6) & inhalant & (minute >= on + 2)
    inspired = np.where(dial > 0, 0.94 * dial, 0.05) + 0.02 * rng.standard_normal(minute.shape)
    air = column((rng.random(len(cases)) < 0.14) & (cases.breathing_system == "rebreathing"))
    use_gas = inhalant & (minute >= on)
    return {
        "agent_et": shown(np.maximum(kept["et"], 0), analyser, 1),
        "agent_insp": shown(np.maximum(inspired, 0), analyser, 1),
        "vaporizer_setting": shown(dial, use_gas & (moved(dial) | (mark % GAS_EVERY == 0)), 2),
        "o2_flow": shown(flow, moved(flow) | (mark % GAS_EVERY == 0), 1),
        "air_flow": shown(np.where(minute < off, 0.5, 0.0), air & ((mark == 0) | moved((minute < off) * 1.0)), 1),
    }


def _ventilator(cases, rng, minute, shown, column) -> dict:
    ventilator_off = column(cases.m_ventilator_off.fillna(-1))
    blows = column(cases.ventilation == "mechanical") & (minute >= 8) & (minute < ventilator_off)
    kg = column(cases.weight_kg)
    peak = column(rng.normal(11, 1.6, len(cases))) + 0.5 * rng.standard_normal(minute.shape)
    volume = kg * column(np.clip(rng.normal(11.5, 1.0, len(cases)), 8, 15)) + kg * 0.25 * rng.standard_normal(
        minute.shape
    )
    volume = np.where(column(cases.species == "rabbit"), volume * 0.55, volume)
    peep = column(np.where(rng.random(len(cases)) < 0.3, rng.integers(2, 6, len(cases)), np.nan))
    return {
        "peak_airway_pressure": shown(np.clip(peak, 6, 20), blows),
        "peep": shown(peep + 0 * minute, blows),
        "tidal_volume": shown(volume, blows),
    }
