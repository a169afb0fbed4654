"""`rounds map`: what evidence decides, what becomes a question, and that nothing written is ever changed."""

import json

import pytest

from pipeline.cli import main
from pipeline.errors import RefusedFile
from pipeline.intake.mapping import clinic_file
from pipeline.intake.mapping.drafter import draft_into
from pipeline.intake.mapping.named import meanings


@pytest.fixture
def draft(tmp_path):
    """draft(name, text) -> the one kind of file written for it, as mapping.toml reads it."""

    def made(name: str, text: str):
        (tmp_path / name).write_text(text, encoding="utf-8")
        draft_into(tmp_path / "mapping.toml", [tmp_path / name])
        return clinic_file.read(tmp_path / "mapping.toml").file[-1]

    made.folder = tmp_path
    return made


# One name a language for the same column; translations are common practice.
@pytest.mark.parametrize(
    ("names", "want"),
    [
        (("Weight", "Gewicht", "Poids", "Peso corporal", "Lichaamsgewicht", "Peso corporeo"), ("cases", "weight_kg")),
        (("Heart rate", "Herzfrequenz", "Fréquence cardiaque", "Frecuencia cardíaca", "Hartfrequentie",
          "Frequenza cardiaca", "Frequência cardíaca"), ("reading", "heart_rate")),
        (("Species", "Tierart", "Espèce", "Especie", "Diersoort", "Specie", "Espécie"), ("cases", "species")),
        (("Owner", "Besitzer", "Propriétaire", "Propietario", "Eigenaar", "Proprietario", "Proprietário"),
         ("personal", "not_loaded")),
        (("Extubation", "Extubación", "Extubatie", "Estubazione", "Extubação"), ("cases", "extubation_at")),
    ],
)  # fmt: skip
def test_names_in_seven_languages(names, want):
    for name in names:
        assert want in meanings(name), name


def test_a_whole_log(draft):
    kind = draft(
        "log_2026-03.csv",
        "Anesthesia log;;;;;;\nCase no;Date;Start;Owner;Wt;Species;Temp (°F)\n"
        "A1;25/03/2026;08:15;Muster;12,4;dog;99,5\nA2;26/03/2026;09:15;Muster;4,2;cat;100,4\n",
    )
    assert kind.files == ["log_*.csv"]
    assert (kind.decimal, kind.dates) == (",", "dmy")
    assert kind.columns["Date"] == "day" and kind.columns["Start"] == "induction_at"
    assert kind.columns["Owner"] == "-"
    assert [asked.sets for asked in kind.question] == [["units", "Wt"]]


def test_a_name_with_two_meanings_is_asked_about_or_told_by_its_cells(draft):
    asked = draft("a.csv", "Fall-Nr.;Uhrzeit;RR\nA1;2026-03-01 08:15;18\n").question
    assert asked[0].choices == ["blood_pressure", "respiratory_rate", "-"]
    told = draft("b.csv", "Fall-Nr.;Uhrzeit;RR\nA1;2026-03-01 08:15;120/80\n")
    assert told.columns["RR"] == "blood_pressure" and told.question == []


def test_low_carbon_dioxide_is_asked_about_once(draft):
    rows = "\n".join(f"A1;2026-03-01 08:{minute};5.{minute % 7}" for minute in range(10, 40))
    assert draft("monitor.csv", f"Case no;Time;EtCO2\n{rows}\n").question[0].choices == ["mmHg", "kPa"]


def test_two_columns_of_one_name_with_different_cells_are_asked_about(draft):
    kind = draft("m.csv", "Case no;Time;Temp;Temp\nA1;2026-03-01 08:15;37.1;36.8\n")
    assert [asked.sets[-1] for asked in kind.question] == ["Temp", "Temp (2)"]


def test_a_missing_case_column_is_asked_for_and_the_answer_is_taken(draft):
    kind = draft("m.csv", "Ref;Time;HR\nA1;2026-03-01 08:15;92\n")
    (asked,) = kind.question
    assert asked.sets == ["columns", "*", "case_id"] and asked.choices == ["Ref"]
    path = draft.folder / "mapping.toml"
    path.write_text(path.read_text(encoding="utf-8").replace('answer = ""', 'answer = "Ref"'), encoding="utf-8")
    assert clinic_file.read(path).file[0].columns["Ref"] == "case_id"


def test_drafting_again_writes_nothing_and_keeps_answers(draft):
    text = "Case no;Species;Wt\nA1;dog;12\nA2;cat;4\n"
    draft("log.csv", text)
    path = draft.folder / "mapping.toml"
    answered = path.read_text(encoding="utf-8").replace('answer = ""', 'answer = "lb"')
    path.write_text(answered, encoding="utf-8")
    draft("log.csv", text)
    assert path.read_text(encoding="utf-8") == answered
    draft("log.csv", text.replace("Wt", "Wt;Coat").replace("12", "12;brown"))
    (report,) = draft_into(path, [draft.folder / "log.csv"])
    assert report.not_named == ["Coat"]
    assert path.read_text(encoding="utf-8") == answered
    draft("other.csv", "Case no;Drug;Dose (mg/kg)\nA1;propofol;4\n")
    assert path.read_text(encoding="utf-8").startswith(answered.rstrip("\n"))


def test_unknown_words_are_remarks_never_applied(draft):
    kind = draft("log.csv", "Case no;Outcome\nA1;alive\nA2;aliv\nA3;flown home\n")
    assert kind.codes == {}
    text = (draft.folder / "mapping.toml").read_text(encoding="utf-8")
    assert '# "aliv" = "alive"' in text and '# "flown home" = "?"' in text


def test_an_unknown_name_is_left_out_with_the_nearest_we_know(draft):
    draft("log.csv", "Case no;Speceis;Coat\nA1;dog;brown\n")
    text = (draft.folder / "mapping.toml").read_text(encoding="utf-8")
    assert '"Speceis" = "-"  # not known to us: not loaded; species?' in text
    assert '"Coat" = "-"  # not known to us: not loaded\n' in text


def test_our_own_columns_need_no_mapping(tmp_path):
    (tmp_path / "cases.csv").write_text("case_id,species\nA1,dog\n", encoding="utf-8")
    (report,) = draft_into(tmp_path / "mapping.toml", [tmp_path / "cases.csv"])
    assert "needs no mapping" in report.why_not
    assert not (tmp_path / "mapping.toml").exists()


def test_a_file_nobody_can_place_is_refused(tmp_path):
    (tmp_path / "x.csv").write_text("foo;bar\n1;2\n", encoding="utf-8")
    with pytest.raises(RefusedFile, match="no line among the first 30"):
        draft_into(tmp_path / "mapping.toml", [tmp_path / "x.csv"])


def test_no_cell_of_an_owner_or_person_is_written(draft):
    draft("log.csv", "Case no;Owner;Anaesthetist;Date of birth;Wt\nA1;Erika Muster;Dr. Muster;03/06/2020;12\n")
    text = (draft.folder / "mapping.toml").read_text(encoding="utf-8")
    assert "Muster" not in text and "03/06/2020" not in text


def test_the_command(tmp_path, capsys):
    (tmp_path / "log.csv").write_text("Case no;Species;Wt\nA1;dog;12\n", encoding="utf-8")
    assert main(["map", str(tmp_path / "log.csv"), "--clinic", str(tmp_path), "--json"]) == 0
    out, err = capsys.readouterr()
    (report,) = json.loads(out)
    assert report["written"] == ["log"] and len(report["questions"]) == 1
    assert "to answer" in err
