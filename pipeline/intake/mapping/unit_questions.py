"""Which unit each column of a draft is in: told by its name, a line of units or its cells; else asked."""

from pipeline import schema
from pipeline.intake.mapping import layout, numbers, words
from pipeline.intake.mapping.clinic_file import Question
from pipeline.intake.mapping.draft import Draft, is_number, middle

# Column -> units it may be in where nothing says so, ours first. A weight is always asked about.
ALWAYS = {"weight_kg": ["kg", "lb", "g"]}


def ask(draft: Draft, cells: dict[str, list[str]], units: dict[str, str]) -> None:
    """Writes the units that are told, and a question for each that only the clinic can know."""
    for header, column in draft.columns.items():
        if not is_number(draft.table, column):
            continue
        told = layout.unit_in(header)[1] or units.get(header, "")
        if told:
            draft.units[header] = told
            continue
        known = [cell for cell in cells[header] if not words.is_missing(cell)]
        if known and all(_has_unit(cell, draft.decimal) for cell in known):
            continue
        choices = ALWAYS.get(column) or _in_doubt(draft, column, middle(cells[header], draft.decimal))
        if choices and known:
            value = _shown(draft, known)
            asked = f"In which unit is the column {header!r} ({column})? Its middle value is {value}."
            draft.questions.append(Question(question=asked, sets=["units", header], choices=choices))


def _shown(draft: Draft, cells: list[str]) -> str:
    value = middle(cells, draft.decimal)
    return "no number" if value is None else numbers.plain(value)


def _has_unit(cell: str, decimal: str) -> bool:
    number = numbers.parse(cell, decimal or ".")
    return number is None or bool(number.unit)


def _in_doubt(draft: Draft, column: str, value) -> list[str]:
    """Units a column may be in, where its middle value leaves a doubt; none where it leaves none."""
    if column == "amount":
        return [] if "amount_unit" in draft.columns.values() else list(schema.AMOUNT_UNITS)
    if value is None:
        return []
    if column == "age_years":
        return ["years", "mo"]
    if column == "etco2":
        return ["mmHg", "kPa"] if value < words.evidence("kpa_below") else []
    if column == "fico2":
        asked = {header for one in draft.questions if one.choices == ["mmHg", "kPa"] for header in one.sets[1:]}
        return ["mmHg", "kPa"] if any(draft.columns.get(header) == "etco2" for header in asked) else []
    if column in ("sap", "map", "dap", "blood_pressure"):
        return ["mmHg", "kPa"] if value < words.evidence("pressure_mmhg_from") else []
    if column in ("o2_flow", "air_flow", "n2o_flow"):
        return ["L/min", "mL/min"] if value > words.evidence("flow_l_min_to") else []
    if column == "bag_ml":
        return ["mL", "L"] if value < words.evidence("bag_l_below") else []
    if column == "tidal_volume":
        return ["mL", "L"] if value < words.evidence("tidal_l_below") else []
    return []
