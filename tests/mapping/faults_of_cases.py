"""Faults of patients and cases, P1 to P22."""

from clean_month import text_of
from fault_list import fault
from faults_of_files import MAPPING, log

ALONE = ("vitals.csv", "drugs.csv", "events.csv")


def cases_of(bench, column: str, cells: dict[str, str], **settings):
    """The month with these cells of a column of cases, loaded."""
    for case, cell in cells.items():
        bench.month.case(case)[column] = cell
    loaded = bench.load(**settings)
    bench.others_unchanged(loaded, *cells)
    return loaded


@fault("P1", "A", "ASA class in free text")
def asa(bench):
    loaded = cases_of(
        bench, "asa_class", {"C05": "II-E", "C06": "2e", "C07": "ASA 3", "C08": "iii", "C09": "ASA2E", "C10": "P3"}
    )
    told = [loaded.cell("asa_class", f"C{number:02d}") for number in range(5, 11)]
    assert told == [2, 2, 3, 3, 2, 3]
    assert loaded.account("cases.csv").quarantined == 0


@fault("P2", "W", "ASA class that is unclear")
def asa_unclear(bench):
    spoiled = dict(
        zip(("C05", "C06", "C07", "C08", "C09", "C10"), ("2-3", "III/IV", "E", "2?", "0", "VI"), strict=True)
    )
    loaded = cases_of(bench, "asa_class", spoiled)
    assert {loaded.cell("asa_class", case) for case in spoiled} == {None}
    assert loaded.account("cases.csv").new == 30
    assert loaded.notes("W")["unclear_class"] == 6


@fault("P3", "N / W", "emergency charted twice")
def emergency(bench):
    bench.month.case("C06")["emergency"] = "yes"
    loaded = cases_of(bench, "asa_class", {"C05": "2E", "C06": "2E"})
    assert [loaded.cell("emergency", case) for case in ("C05", "C06")] == [None, True]
    assert loaded.notes("W")["emergency_disagrees"] == 1


@fault("P4", "A / W", "words for species; a breed in its place; a word for several")
def species(bench):
    words = {
        "C05": "K9",
        "C07": "Cn",
        "C06": "Fel",
        "C08": "DSH",
        "C10": "chat",
        "C09": "Hd.",
        "C11": "GP",
        "C12": "mix",
    }
    loaded = cases_of(bench, "species", words)
    assert [loaded.cell("species", case) for case in ("C05", "C07", "C09")] == ["dog"] * 3
    assert [loaded.cell("species", case) for case in ("C06", "C08", "C10")] == ["cat"] * 3
    assert [loaded.cell("species", case) for case in ("C11", "C12")] == [None, None]
    assert loaded.notes("W")["not_a_code"] == 2


@fault("P5", "W", "a breed of another species")
def breed(bench):
    loaded = cases_of(bench, "breed", {"C06": "Labrador"})
    assert loaded.cell("species", "C06") == "cat"
    assert loaded.flagged() == [("breed", "Labrador", None)]


@fault("P6", "A", "codes for sex and neutering")
def sex(bench):
    words = {"C05": "MN", "C06": "FS", "C07": "m/k", "C08": "wk", "C09": "♀ spayed"}
    loaded = cases_of(bench, "sex", words)
    neutered = ["male_neutered", "female_neutered", "male_neutered", "female_neutered", "female_neutered"]
    assert [loaded.cell("sex", case) for case in words] == neutered


@fault("P7", "A / W", "ages in words and parts, against a birth date")
def age(bench):
    loaded = cases_of(bench, "age_years", {"C05": "3y6m", "C06": "26 wks", "C07": "adult", "C08": "41"})
    assert loaded.cell("age_years", "C05") == 3.5
    assert abs(loaded.cell("age_years", "C06") - 26 * 7 / 365.25) < 1e-6
    assert [loaded.cell("age_years", case) for case in ("C07", "C08")] == [None, None]
    assert loaded.notes("W") == {"age_in_words": 1, "age_impossible": 1}
    mapping = MAPPING + '"Born" = "birth_date"\n"Age" = "age_years"\n'
    rows = "\n".join(
        [
            "Case;Animal;Weight;Induced;Born;Age",
            "C05;dog;12.4;2026-03-05 08:05;2020-03-05;6",
            "C06;cat;4.2;2026-03-06 08:05;2020-03-05;2",
            "C07;dog;12.4;2026-03-07 08:05;2024-03-07;",
        ]
    )
    loaded = bench.load({"log.csv": rows}, mapping)
    assert [loaded.cell("age_years", case) for case in ("C05", "C06", "C07")] == [6, 2, 2]
    assert loaded.notes("W")["age_differs"] == 1


@fault(
    "P8",
    "Q value",
    "weight in grams",
    "unknown in every measure: model stg_cases",
)
def grams(bench):
    loaded = cases_of(bench, "weight_kg", {"C06": "4200"})
    assert loaded.flagged() == [("weight_kg", "4200", "4.2 kg?")]
    assert loaded.account("cases.csv").new == 30


@fault("P9", "A", "weight in pounds, declared in the cell or the header")
def pounds(bench):
    loaded = cases_of(bench, "weight_kg", {"C06": "9.2 lb", "C08": "9,2594 lbs"})
    assert loaded.cell("weight_kg", "C06") == 4.173  # 9.2 x 0.45359237 = 4.17305, NIST SP 811
    assert loaded.cell("weight_kg", "C08") == 4.2
    mapping = MAPPING.replace('"Weight"', '"Wt (lb)"')
    loaded = bench.load(
        {"log.csv": log(bench.month, "Case;Animal;Wt (lb);Induced", [bench.month.case("C01") | {"weight_kg": "9.2"}])},
        mapping,
    )
    assert loaded.cell("weight_kg", "C01") == 4.173
    drafted = bench.draft({"log.csv": log(bench.month, "Case no;Species;Wt;Induction")})
    assert 'choices = ["kg", "lb", "g"]' in drafted
    refused = bench.load({"log.csv": log(bench.month, "Case no;Species;Wt;Induction")}, drafted).receipt.refused
    assert "In which unit is the column 'Wt'" in str(refused[0])
    answered = drafted.replace('answer = ""', 'answer = "lb"')
    loaded = bench.load({"log.csv": log(bench.month, "Case no;Species;Wt;Induction")}, answered)
    assert loaded.cell("weight_kg", "C02") == 1.905  # 4.2 lb


@fault("P10", "W", "a decimal slip of a known patient's weight", "against other visits: check cases_weight_factor_10")
def slip(bench):
    loaded = cases_of(bench, "weight_kg", {"C06": "42"})
    assert [row[:2] for row in loaded.flagged()] == [("weight_kg", "42")]


@fault("P11", "Q / N", "case id reused or missing; names as patient ids")
def reused(bench):
    bench.month.case("C06")["case_id"] = "C05"
    bench.month.case("C07")["case_id"] = ""
    bench.month.case("C08")["patient_id"] = "Rex Muster"
    loaded = bench.load(bench.without(*ALONE))
    assert loaded.account("cases.csv").quarantined == 3
    assert len(loaded.cell("patient_id", "C08")) == 24
    assert not loaded.ask("SELECT * FROM quarantine WHERE raw LIKE '%Muster%' OR reason LIKE '%Muster%'")


@fault("P12", "A", "the same file twice")
def same(bench):
    loaded = bench.load()
    loaded.load(bench.month.files())
    assert [account.unchanged for account in loaded.receipt.files] == [30, 2100, 60, 6]
    bench.others_unchanged(loaded)


@fault("P13", "A", "exports that overlap")
def overlapping(bench):
    loaded = bench.load()
    loaded.load({"cases_again.csv": text_of(bench.month.cases[:10])})
    account = loaded.account("cases_again.csv")
    assert (account.new, account.unchanged) == (0, 10)
    bench.others_unchanged(loaded)


@fault("P14", "N", "a corrected export: the newer wins, the older is kept")
def corrected(bench):
    loaded = bench.load()
    loaded.load({"cases_corrected.csv": text_of([bench.month.case("C05") | {"outcome": "died"}])})
    assert loaded.account("cases_corrected.csv").replaced == 1
    assert loaded.cell("outcome", "C05") == "died"
    assert loaded.ask("SELECT count(*) FROM replaced_rows WHERE raw LIKE '%alive%'") == [(1,)]
    bench.others_unchanged(loaded, "C05")


@fault("P15", "W", "a case that a later full export has no more")
def vanished(bench):
    loaded = bench.load()
    newer = [
        row | {"outcome": "died"} if row["case_id"] == "C05" else row
        for row in bench.month.cases
        if row["case_id"] != "C06"
    ]
    loaded.load({"cases_full.csv": text_of(newer)})
    assert loaded.notes("W")["absent_in_newer_export"] == 1
    assert loaded.cell("species", "C06") == "cat"


@fault("P16", "Q / W", "readings without a case, a case without readings")
def orphans(bench):
    for row in bench.month.vitals:
        row["case_id"] = {"C05": "A77"}.get(row["case_id"], row["case_id"])
    loaded = bench.load()
    assert loaded.account("vitals.csv").quarantined == 70
    assert loaded.cell("species", "C05") == "dog"
    bench.others_unchanged(loaded, "C05")


@fault("P17", "N", "test patients, by the clinic's own patterns")
def tests(bench):
    for case in ("C05", "C06"):
        bench.month.case(case)["patient_id"] = "TEST Dog"
    loaded = bench.load(bench.without(*ALONE), 'schema = 1\ntest_patients = ["test*"]\n')
    account = loaded.account("cases.csv")
    assert (account.new, account.set_aside) == (28, 2)
    assert loaded.notes("N")["test_patient"] == 2


@fault(
    "P18", "N", "two anesthetics of one patient on one day", "each induction is a case of its own: model case_windows"
)
def again(bench):
    bench.month.cases.append(bench.month.case("C05") | {"case_id": "C05b", "induction_at": "2026-03-05 14:05:00",
                                                        "intubation_at": "2026-03-05 14:09:00"})  # fmt: skip
    loaded = bench.load()
    assert loaded.account("cases.csv").new == 31
    bench.others_unchanged(loaded, "C05b")


@fault("P19", "A / W", "words for outcome; an arrest is no outcome")
def outcome(bench):
    words = {"C05": "ok", "C06": "PTS", "C07": "euth", "C08": "d.", "C09": "arrest-ROSC"}
    loaded = cases_of(bench, "outcome", words)
    assert [loaded.cell("outcome", case) for case in words] == ["alive", "euthanised", "euthanised", "died", None]
    assert loaded.notes("W")["not_a_code"] == 1


@fault("P20", "W", "death on a later day", "each rate names its window: model case_deaths")
def horizon(bench):
    for row in bench.month.cases:
        row["outcome_at"] = "2026-03-08 10:00:00" if row["case_id"] == "C05" else ""
    loaded = cases_of(bench, "outcome", {"C05": "died"})
    assert str(loaded.cell("outcome_at", "C05")) == "2026-03-08 10:00:00"


@fault("P21", "N", "owner and phone in the export")
def owners(bench):
    rows = [row | {"owner": "Erika Musterfrau", "phone": "0123-456789"} for row in bench.month.cases]
    loaded = bench.load(bench.month.files() | {"cases.csv": text_of(rows)})
    said = " ".join(loaded.receipt.sentences())
    assert "Musterfrau" not in said and "456789" not in said
    for table in ("cases", "quarantine", "load_notes", "files"):
        assert "Musterfrau" not in str(loaded.ask(f"SELECT * FROM {table}"))
    bench.others_unchanged(loaded)


@fault("P22", "A / W", "staff as initials, in several spellings")
def staff(bench):
    for case in ("C05", "C06", "C07", "C08"):
        bench.month.case(case)["anesthetist"] = "AB"
    loaded = cases_of(
        bench,
        "anesthetist",
        {"C09": "A.B.", "C10": "ab", "C11": "ab/CD"} | dict.fromkeys(("C05", "C06", "C07", "C08"), "AB"),
    )
    assert [loaded.cell("anesthetist", case) for case in ("C09", "C10", "C11")] == ["AB", "AB", None]
    assert loaded.notes("A")["person_alias"] == 2
    assert "AB" not in " ".join(loaded.receipt.sentences()).split()
    bench.month.case("C12")["anesthetist"] = "Anna"
    loaded = bench.load(mapping='schema = 1\n[people]\n"Anna" = "AB"\n')
    assert loaded.cell("anesthetist", "C12") == "AB"
