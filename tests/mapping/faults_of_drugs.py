"""Faults of drugs and stock, D1 to D13."""

from clean_month import text_of
from fault_list import fault

STOCK = [
    {"item": "propofol_20ml", "at": "2026-03-01 07:00:00", "movement": "counted", "quantity": "20", "unit": "mL"},
    {"item": "propofol_20ml", "at": "2026-03-15 07:00:00", "movement": "received", "quantity": "2", "unit": "box"},
    {"item": "propofol_20ml", "at": "2026-03-16 07:00:00", "movement": "counted", "quantity": "-3", "unit": "mL"},
]


def stock_of(bench, rows):
    loaded = bench.load({"stock.csv": text_of(rows)})
    return loaded.ask('SELECT item, movement, quantity, unit FROM stock ORDER BY "at"')


def doses(loaded, case: str) -> list[tuple]:
    return loaded.ask(
        "SELECT drug, amount, amount_unit, route FROM drugs WHERE case_id = ? ORDER BY source_row, drug", case
    )


@fault("D1", "A / W", "typing slips, abbreviations, salts, languages")
def names(bench):
    words = {
        "C05": "propofl",
        "C06": "PPF",
        "C07": "Propofol",
        "C08": "methadon HCl",
        "C09": "Dexmedetomidin",
        "C10": "Ketamina",
    }
    for case, word in words.items():
        bench.month.dose(case, "propofol")["drug"] = word
    loaded = bench.load()
    told = [
        loaded.ask("SELECT drug FROM drugs WHERE case_id = ? ORDER BY source_row DESC", case)[0][0] for case in words
    ]
    assert told == ["propofl", "propofol", "propofol", "methadone", "dexmedetomidine", "ketamine"]
    assert loaded.notes("W") == {"drug_unknown": 1}
    assert any("propofol" in note.sentence for note in loaded.account("drugs.csv").notes if note.kind == "W")
    bench.others_unchanged(loaded, *words)


@fault("D2", "A", "trade names, by the clinic's own list alone")
def trade(bench):
    bench.month.dose("C05", "propofol")["drug"] = "Sleepwell 10"
    assert doses(bench.load(), "C05")[1][0] == "sleepwell 10"
    loaded = bench.load(mapping='schema = 1\n[trade_names]\n"Sleepwell 10" = "propofol"\n')
    assert doses(loaded, "C05")[1][0] == "propofol"
    bench.others_unchanged(loaded)


@fault("D3", "N / W", "several drugs in a cell")
def several(bench):
    one = bench.month.dose("C05", "methadone")
    one.update(drug="methadone 0.2 mg/kg + acepromazine 0.02 mg/kg", amount="", amount_unit="")
    two = bench.month.dose("C06", "methadone")
    two.update(drug="methadone + acepromazine", amount="", amount_unit="")
    loaded = bench.load()
    assert doses(loaded, "C05")[:2] == [("acepromazine", 0.02, "mg/kg", "im"), ("methadone", 0.2, "mg/kg", "im")]
    assert loaded.notes("N")["drugs_split"] == 1
    assert ("drug", "methadone + acepromazine", None) in loaded.flagged()
    assert loaded.account("drugs.csv").read == 60
    bench.others_unchanged(loaded, "C05", "C06")


@fault(
    "D4",
    "A / Q value",
    "mcg and mg; no unit at all",
    "doses a thousand times their table: check drugs_dose_factor_1000",
)
def micrograms(bench):
    cells = {
        "C05": ("5", "µg/kg"),
        "C06": ("5ug", ""),
        "C07": ("5 mcg", "mg/kg"),
        "C08": ("5 gamma", ""),
        "C09": ("5", ""),
        "C10": ("5", "sips"),
    }
    for case, (amount, unit) in cells.items():
        bench.month.dose(case, "propofol").update(amount=amount, amount_unit=unit)
    loaded = bench.load()
    told = [doses(loaded, case)[-1][1:3] for case in cells]
    assert told == [(5, "mcg/kg"), (5, "mcg"), (5, "mcg"), (5, "mcg"), (5, None), (None, None)]
    assert loaded.notes("W")["amount_without_unit"] == 1
    assert [row[:2] for row in loaded.quarantined()] == [("C10", "amount")]
    bench.others_unchanged(loaded, *cells)


@fault("D5", "A / W", "dose, dose per kg, volume", "mL need a concentration, mg/kg a weight: model drug_doses")
def volumes(bench):
    bench.month.dose("C05", "propofol").update(amount="0.3 ml", amount_unit="")
    loaded = bench.load()
    assert doses(loaded, "C05")[-1][1:3] == (0.3, "mL")
    bench.others_unchanged(loaded, "C05")


@fault("D6", "A / W", "rates", "amount = rate x time x weight: model drug_doses")
def rates(bench):
    bench.month.dose("C05", "propofol").update(amount="0.2", amount_unit="mg/kg/min")
    bench.month.dose("C06", "propofol").update(amount="5 mcg/kg/h", amount_unit="")
    loaded = bench.load()
    assert doses(loaded, "C05")[-1][1:3] == (12, "mg/kg/h")
    assert doses(loaded, "C06")[-1][1:3] == (5, "mcg/kg/h")
    bench.others_unchanged(loaded, "C05", "C06")


@fault("D7", "A / W", "words for routes; epi may be two")
def routes(bench):
    words = {"C05": "IV", "C06": "i.v.", "C07": "SC/SQ", "C08": "epi", "C09": "LB"}
    for case, word in words.items():
        bench.month.dose(case, "propofol")["route"] = word
    loaded = bench.load()
    assert [doses(loaded, case)[-1][3] for case in words] == ["iv", "iv", "sc", None, "perineural"]
    assert ("route", "epi", None) in loaded.flagged()
    bench.others_unchanged(loaded, *words)


@fault("D8", "A", "intended, cancelled and entered in error")
def cancelled(bench):
    mapping = """
schema = 1
[[file]]
name = "doses"
files = ["doses*"]
table = "drugs"
[file.columns]
"Case" = "case_id"
"Drug" = "drug"
"State" = "status"
"""
    rows = "Case;Drug;State\nC05;propofol;given\nC05;ketamine;cancelled\nC05;fentanyl;entered in error\n"
    loaded = bench.load(bench.without("drugs.csv") | {"doses.csv": rows}, mapping)
    account = loaded.account("doses.csv")
    assert (account.new, account.set_aside) == (1, 2)
    assert loaded.notes("A")["not_counted"] == 2


@fault(
    "D9",
    "N",
    "waste, top-ups, counts, negative amounts",
    "movements and balances: model stock_moves; check stock_quantity_not_negative",
)
def movements(bench):
    assert stock_of(bench, STOCK)[2] == ("propofol_20ml", "counted", -3.0, "mL")


@fault("D10", "W", "packs instead of doses", "a pack table in the settings: model stock_items")
def packs(bench):
    assert stock_of(bench, STOCK)[1] == ("propofol_20ml", "received", 2.0, "box")


@fault("D11", "A", "use in some months only", "zeros are data: model item_use")
def intermittent(bench):
    assert stock_of(bench, [STOCK[0] | {"quantity": "0"}])[0][2] == 0


@fault("D12", "W", "months that are not full", "partial months stand in no forecast: model record_end")
def partial(bench):
    bench.month.cases = [row for row in bench.month.cases if row["induction_at"] < "2026-03-21"]
    loaded = bench.load(bench.without("vitals.csv", "drugs.csv", "events.csv"))
    assert loaded.account("cases.csv").quarantined == 0


@fault("D13", "W", "gaps in supply", "model stock_positions")
def gaps(bench):
    assert stock_of(bench, [STOCK[0] | {"quantity": "0"}, STOCK[1]])[0][2] == 0
