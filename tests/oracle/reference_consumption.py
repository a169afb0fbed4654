"""Second reading, part 4: doses of drugs, packs opened, oxygen and liquid inhalant."""

from reference_cases import first_known, month_number

PLAIN = ("mg", "mcg", "mL")
PER_KG = ("mg/kg", "mcg/kg")
# rate: (per kg, what one unit is in mg or mL, seconds of its time)
RATES = {
    "mg/h": (False, 1.0, 3600),
    "mg/kg/h": (True, 1.0, 3600),
    "mcg/kg/h": (True, 0.001, 3600),
    "mcg/kg/min": (True, 0.001, 60),
    "mL/h": (False, 1.0, 3600),
}
AGENTS = {"isoflurane": (195, 1.496, 539), "sevoflurane": (184, 1.520, 195), "desflurane": (210, 1.465, 2590)}


def dose(row, case, settings):
    """(mg, mL, packs), each None where unknown."""
    items = [item for item in settings.items.values() if item.drug == row["drug"]]
    strength = row["concentration_mg_ml"]
    if strength is None:
        strength = agreed(item.concentration_mg_ml for item in items)
    amount, unit = row["amount"], row["amount_unit"]
    weight = case["weight"] if case else None
    total = None
    if amount is None or unit is None:
        pass
    elif unit in PLAIN:
        total = amount / 1000 if unit == "mcg" else amount
    elif unit in PER_KG and row["kind"] == "bolus" and weight is not None:
        total = amount * weight / (1000 if unit == "mcg/kg" else 1)
    elif unit in RATES and row["kind"] == "infusion":
        per_kg, factor, seconds = RATES[unit]
        length = infusion_seconds(row, case)
        if length is not None and (weight is not None or not per_kg):
            total = amount * factor * length / seconds * (weight if per_kg else 1)
    if total is None:
        return None, None, None
    if unit in ("mL", "mL/h"):
        ml, mg = total, None if strength is None else total * strength
    else:
        mg, ml = total, total / strength if strength else None
    pack = agreed(item.pack_ml for item in items)
    return mg, ml, ml / pack if ml is not None and pack else None


def agreed(values):
    """The value that every item which states one states; None where none does or two differ."""
    stated = {value for value in values if value is not None}
    return stated.pop() if len(stated) == 1 else None


def infusion_seconds(row, case):
    begun, stopped = row["given_at_s"], row["stopped_at_s"]
    if begun is None:
        return None
    if stopped is None and case:
        later = [
            other["given_at_s"]
            for other in case["drugs"]
            if other["drug"] == row["drug"] and other["given_at_s"] is not None and other["given_at_s"] > begun
        ]
        stopped = min(later, default=None)
    if stopped is None or stopped < begun:
        return None
    return stopped - begun


def drug_totals(record, cases, settings):
    """{measure: [(drug, month or None, value or None)]}"""
    rows = {name: [] for name in ("drug_mg", "drug_ml", "drug_packs", "drug_wasted_ml", "drug_packs_opened")}
    for row in record["drugs"]:
        case = cases.get(row["case_id"])
        month = case["month"] if case else None
        if month is None and row["given_at"] is not None:
            month = month_number(row["given_at"])
        mg, ml, packs = dose(row, case, settings)
        for measure, value in (("drug_mg", mg), ("drug_ml", ml), ("drug_packs", packs),
                               ("drug_wasted_ml", row["wasted_ml"])):  # fmt: skip
            rows[measure].append((row["drug"], month, value))
    for row in record["stock"]:
        item = settings.items.get(row["item"])
        if row["movement"] == "opened" and item is not None and item.drug is not None:
            rows["drug_packs_opened"].append((item.drug, month_number(row["at"]), packs_of(row, item)))
    return rows


def packs_of(row, item):
    """Packs of a movement: charted in packs, or in mL or mg of a pack whose size the settings state."""
    quantity, unit, size = row["quantity"], (row["unit"] or "").lower(), item.pack_ml
    if quantity is None:
        return None
    if unit in ("pack", "packs", "vial"):
        return quantity
    if unit == "mg" and item.concentration_mg_ml:
        quantity = quantity / item.concentration_mg_ml
    elif unit != "ml":
        return None
    return quantity / size if size else None


def standing(case, parameter, moment):
    """The setting that stands at a moment: the last valid one at or before it; None before the first."""
    found = None
    for t, value in case["valid"].get(parameter, []):
        if t <= moment:
            found = value
    return found


def pieces(case, parameters, begin, finish):
    """Seconds between begin and finish cut wherever one of the settings changes: [(from, seconds)]."""
    if begin is None or finish is None:
        return []
    cuts = {begin, finish}
    for parameter in parameters:
        cuts |= {t for t, _ in case["valid"].get(parameter, []) if begin < t < finish}
    cuts = sorted(cuts)
    return [(a, b - a) for a, b in zip(cuts, cuts[1:], strict=False)] if finish > begin else []


def oxygen_l(case):
    begin = first_known(case["preoxygenation_start_at_s"], case["vaporizer_on_at_s"], case["start"])
    total = None
    for moment, seconds in pieces(case, ["o2_flow"], begin, case["end"]):
        flow = standing(case, "o2_flow", moment)
        if flow is not None:
            total = (total or 0) + flow * seconds / 60
    return total


def agent_liquid_ml(case):
    begin = case["vaporizer_on_at_s"]
    if begin is None:
        begin = min([t for t, value in case["valid"].get("vaporizer_setting", []) if value > 0], default=None)
    finish = first_known(case["vaporizer_off_at_s"], case["end"])
    total = None
    for moment, seconds in pieces(case, ["o2_flow", "air_flow", "n2o_flow", "vaporizer_setting"], begin, finish):
        oxygen, dial = standing(case, "o2_flow", moment), standing(case, "vaporizer_setting", moment)
        if oxygen is not None and dial is not None:
            flow = oxygen + (standing(case, "air_flow", moment) or 0) + (standing(case, "n2o_flow", moment) or 0)
            total = (total or 0) + flow * 1000 * dial / 100 * seconds / 60 / AGENTS[case["agent"]][0]
    return total


def gas_totals(cases):
    """{measure: [(agent, month, value or None)]} of the inhalants; oxygen is a value of each case."""
    rows = {"agent_liquid_ml": [], "co2e_kg": []}
    for case in cases.values():
        if case["start"] is not None and case["agent"] in AGENTS:
            ml = agent_liquid_ml(case)
            _, density, gwp = AGENTS[case["agent"]]
            rows["agent_liquid_ml"].append((case["agent"], case["month"], ml))
            rows["co2e_kg"].append((case["agent"], case["month"], None if ml is None else ml * density * gwp / 1000))
    return rows
