"""Nobody's name or number gets in, on or out: not into the database, nor messages, nor sheets."""

import json
import os
import re
import stat
import sys

import pytest

from pipeline.errors import SettingsFault
from pipeline.intake import identity
from pipeline.settings import Privacy

SECRETS = ("REX-0815", "Miller", "0171-555", "Birch Lane", "miller@example.org", "Mueller")
TEXT = (
    "case_id,patient_id,owner,Telefon,Adresse,E-Mail,Besitzer,species,weight_kg,anesthetist\n"
    "A1,REX-0815,Mrs Miller,0171-555,Birch Lane 1,miller@example.org,Mueller,dog,12.5,AB\n"
    "A2,REX-0815,Mrs Miller,0171-555,Birch Lane 1,miller@example.org,Mueller,dog,heavy,AB\n"
    "A3,REX-0815,Mrs Miller,0171-555\n"
    'A4,"REX-0815,Mrs Miller,0171-555,Birch Lane 1,miller@example.org,Mueller,dog,5,AB\n'
    "A5,1.23E+08,Mrs Miller,0171-555,Birch Lane 1,miller@example.org,Mueller,dog,5,AB\n"
    "A2,REX-0815,Mrs Miller,0171-555,Birch Lane 1,miller@example.org,Mueller,dog,12,CD\n"
)


@pytest.fixture
def full(clinic):
    clinic.receipt = clinic.load(clinic.put("cases.csv", TEXT))
    # The same patient again in a newer export, so that a row is replaced.
    clinic.second = clinic.load(clinic.put("cases_2.csv", TEXT.replace("12.5", "12.6")))
    return clinic


def everything_written(clinic) -> str:
    tables = [row[0] for row in clinic.ask("SELECT table_name FROM information_schema.tables ORDER BY 1")]
    written = [str(clinic.ask(f"SELECT * FROM {table}")) for table in tables]
    sheets = [path.read_text(encoding="utf-8-sig") for path in (clinic.folder / "to_fix").iterdir()]
    said = [*clinic.receipt.sentences(), *clinic.second.sentences(), json.dumps(clinic.receipt.as_dict())]
    return "\n".join([*written, *sheets, *said])


def test_no_owner_and_no_patient_in_the_clear_anywhere(full):
    text = everything_written(full)
    assert len(text) > 2000
    for secret in SECRETS:
        assert secret not in text
    full.db.execute("CHECKPOINT")
    stored = (full.folder / "rounds.duckdb").read_bytes()
    assert [secret for secret in SECRETS if secret.encode() in stored] == []


def test_owner_columns_are_named_and_left_out(full):
    assert [note.sentence for note in full.receipt.files[0].notes if note.rule == "P21"] == [
        f"The column {name} may name an owner; it was not loaded."
        for name in ("owner", "telefon", "adresse", "e_mail", "besitzer")
    ]


def test_patients_become_keyed_hashes(full):
    assert full.ask("SELECT count(DISTINCT patient_id) FROM cases") == [(1,)]
    (hidden,) = full.ask("SELECT DISTINCT patient_id FROM cases")[0]
    assert re.fullmatch(r"[0-9a-f]{24}", hidden)
    key = identity.key_of(full.folder)
    assert hidden == identity.pseudonym(key, "REX-0815")
    other = bytes(32)
    assert hidden != identity.pseudonym(other, "REX-0815")


def test_a_pseudonym_is_hmac_sha256():
    # RFC 4231, test case 2: key "Jefe", data "what do ya want for nothing?"; the first 24 of its digits.
    assert identity.pseudonym(b"Jefe", "what do ya want for nothing?") == "5bdcc146bf60754e6a042426089575c7"[:24]


@pytest.mark.skipif(sys.platform == "win32", reason="file modes mean nothing on Windows")
def test_the_key_is_for_its_owner_alone_and_made_once(full):
    path = full.folder / "patient_key"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    before = path.read_text(encoding="ascii")
    identity.key_of.cache_clear()
    full.load(full.put("cases_3.csv", TEXT.replace("12.5", "12.7")))
    assert path.read_text(encoding="ascii") == before
    assert before.strip() not in everything_written(full)


def test_a_spoilt_key_stops_the_load(clinic):
    (clinic.folder / "patient_key").write_text("short", encoding="ascii")
    identity.key_of.cache_clear()
    with pytest.raises(SettingsFault, match="a key that is not 64 hexadecimal digits"):
        clinic.load(clinic.put("cases.csv", TEXT))
    assert clinic.ask("SELECT count(*) FROM files") == [(0,)]


def test_no_key_is_made_where_no_patient_is_named(clinic):
    clinic.load(clinic.put("cases.csv", "case_id,species\nA1,dog\n"))
    assert not (clinic.folder / "patient_key").exists()


def test_ids_stay_where_the_settings_say_so(tmp_path):
    from clinic_folder import Clinic

    from pipeline import database

    with database.connect(tmp_path / database.FILE) as db:
        clinic = Clinic(tmp_path, db, privacy=Privacy(patient_ids="keep"))
        clinic.load(clinic.put("cases.csv", "case_id,patient_id\nA1,REX-0815\n"))
        assert clinic.ask("SELECT patient_id FROM cases") == [("REX-0815",)]
        assert not (tmp_path / "patient_key").exists()


@pytest.mark.parametrize(
    "header",
    ["owner", "Owner name", "client_id", "Halter", "Besitzer", "Kundennr", "propriétaire", "Propietario", "dueño",
     "Eigenaar", "Cliente", "Proprietário", "phone", "Telefonnummer", "téléphone", "Telefoon", "E-Mail", "email",
     "correo", "Adresse", "dirección", "Indirizzo", "endereço", "Straße", "PLZ", "zip code"],
)  # fmt: skip
def test_headers_of_owners_in_seven_languages(header):
    from pipeline.intake.headers import clean

    assert identity.names_an_owner(clean(header))


def test_our_own_columns_name_no_owner():
    from pipeline import schema

    names = {column.name for table in schema.TABLES.values() for column in table.columns} | set(schema.PARAMETERS)
    assert [name for name in names if identity.names_an_owner(name)] == []


def test_staff_codes_stay_out_of_messages(clinic):
    clinic.load(clinic.put("cases.csv", "case_id,species\nA1,dog\n"))
    receipt = clinic.load(clinic.put("people.csv", "case_id,person,role\nA1,QZX,primery\nA1,QZX,primary\n"))
    assert "QZX" not in "\n".join(receipt.sentences())
    assert os.sep not in receipt.files[0].name
