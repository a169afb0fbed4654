"""[programme] of clinic.toml: what is accepted, and the sentence for what is not."""

import tomllib
from datetime import date

import pytest

from pipeline.errors import SettingsFault
from pipeline.training import programme


def read(text: str):
    return programme.read(tomllib.loads(text).get("programme", {}))


def test_the_example_in_the_module_is_accepted():
    text = programme.__doc__.split("::", 1)[1].rsplit("\n\n", 1)[0]
    asked = read("\n".join(line.strip() for line in text.splitlines()))
    assert asked.trainees["r_ash"].start == date(2024, 9, 1)
    assert asked.targets[0].criteria == {"species": ("cat",), "asa_class": (3, 4, 5), "role": ("primary",)}
    assert (asked.targets[0].amount, asked.targets[0].unit, asked.targets[0].year) == (12, "cases", 2)
    assert (asked.curves[0].acceptable, asked.curves[0].alpha) == (0.05, 0.1)


def test_no_programme_is_a_programme_without_targets():
    assert read("") == programme.Programme()


TARGET = '[[programme.targets]]\nname = "Cats"\n'
CURVE = (
    '[[programme.learning_curves]]\nname = "Lines"\ntechnique = "arterial_line"\nfailure_events = ["hemorrhage"]\n'
    'acceptable = 0.1\nunacceptable = 0.3\nsource = "agreed here"\n'
)


@pytest.mark.parametrize(
    "text, said",
    [
        ("[programme]\nyear = 3", "did you mean programme.years?"),
        ("[programme]\nyears = 0", "a whole number from 1"),
        ('[programme]\nsheets = "weekly"', "one of month, quarter, year"),
        ('[programme]\nroles = ["primery"]', "did you mean programme.roles = primary?"),
        ("[programme.trainees]\nr_ash = { strat = 2024-09-01 }", "did you mean programme.trainees, no. 1.start?"),
        ("[programme.trainees]\nr_ash = { }", "the first day of training"),
        ('[programme.trainees]\nr_ash = { start = "1 Sept" }', "a date such as 2024-09-01"),
        ("[programme.trainees]\nr_ash = { start = 2024-09-01, leaves = 2024-01-01 }", "a day on or after the start"),
        (TARGET, "neither cases nor hours"),
        (TARGET + "cases = 5\nhours = 5", "cases and hours"),
        (TARGET + "cases = 0", "a number above 0"),
        (TARGET + "cases = true", "a number above 0"),
        (TARGET + "cases = 5\nspecies = 'catt'", "did you mean programme.targets, no. 1.species = cat?"),
        (TARGET + "cases = 5\nasa_class = 6", "one of 1, 2, 3, 4, 5"),
        (TARGET + "cases = 5\nasa_class = true", "one of 1, 2, 3, 4, 5"),
        (TARGET + "cases = 5\nemergency = 1", "one of true, false"),
        (TARGET + "cases = 5\ntechniques = 'epidural'", "did you mean programme.targets, no. 1.technique?"),
        ("[[programme.targets]]\ncases = 5", "a name for the page"),
        ("[programme]\ntargets = 3", "tables that each begin with [[programme.targets]]"),
        (CURVE.replace("acceptable = 0.1\n", "", 1), "a share between 0 and 1"),
        (CURVE.replace("0.3", "0.05"), "an acceptable share of failures below the unacceptable one"),
        (CURVE.replace('source = "agreed here"', ""), "who agreed on these rates"),
        (CURVE.replace('technique = "arterial_line"', 'role = "primary"'), "the cases that are attempts"),
        (CURVE.replace("hemorrhage", "bleeding"), "one of"),
        (CURVE.replace('failure_events = ["hemorrhage"]', ""), "failure_events or failure_techniques"),
        (CURVE + "alpha = 0.6\nbeta = 0.6", "chances of error such as 0.1 each"),
    ],
)
def test_what_is_wrong_is_said_with_the_line_to_mend(text, said):
    with pytest.raises(SettingsFault) as fault:
        read(text)
    assert said in str(fault.value)
    assert "clinic.toml" in str(fault.value)


def test_a_message_about_a_trainee_names_nobody():
    with pytest.raises(SettingsFault) as fault:
        read("[programme.trainees]\nr_ash = { start = 2024-09-01 }\nsmith_j = { start = 3 }")
    assert "smith_j" not in str(fault.value)
    assert "no. 2" in str(fault.value)
