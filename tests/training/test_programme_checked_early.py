"""A fault in [programme] or [planned] is said when clinic.toml is read, in words for the person who wrote it."""

import pytest

from pipeline.errors import SettingsFault
from pipeline.settings import read

TOP = 'zone = "UTC"\n'


@pytest.mark.parametrize(
    "text, where, wanted",
    [
        ("[programme.trainees]\nr_ash = { year = 2 }\n", "programme.trainees, no. 1", "the first day of training"),
        (
            '[[programme.targets]]\nname = "Cats"\nspecies = "cat"\n',
            "programme.targets, no. 1",
            "one of them, such as cases = 20",
        ),
        ('[programme]\nsheets = "week"\n', "programme.sheets", "one of month, quarter, year"),
        ('[planned.move]\nfrom = "2026-13"\nclosed = true\n', "planned.move.from", 'a month such as "2026-03"'),
    ],
)
def test_a_fault_is_said_when_the_file_is_read(tmp_path, text, where, wanted):
    file = tmp_path / "clinic.toml"
    file.write_text(TOP + text, encoding="utf-8")
    with pytest.raises(SettingsFault) as fault:
        read(file)
    assert fault.value.where == f"clinic.toml, {where}"
    assert wanted in fault.value.wanted
    assert "r_ash" not in str(fault.value)


def test_a_misspelled_species_names_the_nearest(tmp_path):
    file = tmp_path / "clinic.toml"
    file.write_text(TOP + '[[programme.targets]]\nname = "Dogs"\ncases = 5\nspecies = "dgo"\n', encoding="utf-8")
    with pytest.raises(SettingsFault, match="species = dog"):
        read(file)
