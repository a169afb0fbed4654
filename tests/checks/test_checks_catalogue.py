"""The catalogue says what it must, and leaves nothing of the schema or the seeds unchecked."""

import re

import pytest

from pipeline import schema
from pipeline.checks import catalogue, judge
from pipeline.checks.catalogue import CatalogueFault, rules
from pipeline.models.seeds import read_seed
from pipeline.shipped import folder

SQL = folder("sql") / "checks"
FILES = sorted(SQL.rglob("*.sql"))


def rules_with(word: str) -> set[tuple[str, str]]:
    return {(rule.table, rule.columns[0]) for rule in rules() if rule.rule == word}


def test_the_catalogue_is_wide_enough():
    assert len(rules()) >= 80
    assert {rule.level for rule in rules()} == set(catalogue.LEVELS)
    assert {rule.severity for rule in rules()} == set(catalogue.SEVERITIES) == set(judge.SEVERITY)


def test_every_column_a_row_must_have_and_every_code_list_has_its_rule():
    for table in schema.TABLES.values():
        assert {(table.name, name) for name in table.required} <= rules_with("required")
        coded = {(table.name, column.name) for column in table.columns if column.codes}
        assert coded <= rules_with("codes")


def test_every_parameter_has_bounds_and_a_rule():
    asked = {rule.part for rule in rules() if rule.rule == "plausible" and rule.table == "vitals"}
    known = {row["parameter"] for row in read_seed("plausibility") + read_seed("check_bounds")}
    assert asked == set(schema.PARAMETERS)
    assert asked <= known


def test_every_file_belongs_to_a_rule_and_stops_short():
    assert {path.name for path in SQL.glob("*.sql")} == {rule.file.name for rule in rules() if rule.file}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_header_says_what_the_file_judges_and_truly_what_it_reads(path):
    sql = path.read_text(encoding="utf-8")
    name = path.stem.split("_", 1)[1] if path.parent.name == "inputs" else path.stem
    assert sql.startswith(f"-- {name}: ")
    head, _, body = sql.partition("\n\n")
    said = re.search(r"^-- Reads +(.+(?:\n-- {9}\S.*)*)$", head, re.MULTILINE).group(1)
    said = set(re.split(r",\s*", re.sub(r"\n-- +", " ", said)))
    made = set(re.findall(r"^(\w+) AS (?:MATERIALIZED |NOT MATERIALIZED )?\($", body, re.MULTILINE))
    body = re.sub(r"--.*", "", body)
    read = set(re.findall(r"(?<!DISTINCT )\b(?:FROM|JOIN) (\w+)", body)) - made
    assert said == read
    assert len(sql.splitlines()) <= 140


def test_every_threshold_is_used_and_has_a_source():
    text = "".join(path.read_text(encoding="utf-8") for path in FILES) + "".join(rule.rule for rule in rules())
    for row in read_seed("check_values"):
        assert row["source"], row["name"]
        assert re.search(rf"\b{row['name']}\b", text), row["name"]
    for name in ("check_bounds", "formulary", "strengths"):
        assert all(row["source"] for row in read_seed(name)), name


def test_a_row_of_the_catalogue_that_makes_no_sense_is_refused():
    row = {
        "id": "x", "table": "cases", "level": "hope", "columns": "a;b", "part": "", "rule": "codes", "scope": "",
        "severity": "flag", "tolerated": "0", "sentence": "s", "fix": "f", "why": "", "source": "c",
    }  # fmt: skip
    with pytest.raises(CatalogueFault, match="line 7, x: level 'hope'; a rule without .* why .*; a word for 2 columns"):
        catalogue._rule(row, 7)


# Oracles of the formulary: label and guideline doses as their sources print them.
@pytest.mark.parametrize(
    "drug, species, unit, printed, source",
    [
        ("propofol", "dog", "mg/kg", (5.5, 7.0), "21 CFR 522.2005: induction without premedication"),
        ("propofol", "cat", "mg/kg", (8.0, 13.2), "21 CFR 522.2005: induction without premedication"),
        ("alfaxalone", "dog", "mg/kg", (1.5, 4.5), "21 CFR 522.52: without premedication"),
        ("alfaxalone", "cat", "mg/kg", (2.2, 9.7), "21 CFR 522.52: without premedication"),
        ("acepromazine", "dog", "mg/kg", (0.55, 1.1), "21 CFR 522.23: label"),
        ("dexmedetomidine", "cat", "mcg/kg", (40, 40), "21 CFR 522.558: label, IM"),
        ("ketamine", "cat", "mg/kg", (11, 33), "21 CFR 522.1222a: label, IM"),
        ("robenacoxib", "dog", "mg/kg", (2, 2), "21 CFR 522.2075"),
        ("fentanyl", "dog", "mcg/kg/h", (5, 20), "TIVA and PIVA dose table"),
    ],
)
def test_a_legal_label_dose_lies_in_the_band(drug, species, unit, printed, source):
    low, high = printed
    row = next(row for row in read_seed("formulary")
               if (row["drug"], row["species"], row["route"], row["unit"]) == (drug, species, "any", unit))  # fmt: skip
    assert row["low"] <= low and high <= row["high"], source


def test_bands_are_sane_and_one_a_drug_species_route_and_unit():
    rows = read_seed("formulary")
    keys = [(row["drug"], row["species"], row["route"], row["unit"]) for row in rows]
    assert len(keys) == len(set(keys))
    assert all(0 < row["low"] <= row["high"] for row in rows)
    assert {row["unit"] for row in rows} <= set(schema.AMOUNT_UNITS)
    assert {row["species"] for row in rows} <= set(schema.SPECIES)
    assert {row["status"] for row in rows} == {"verified", "memory"}
