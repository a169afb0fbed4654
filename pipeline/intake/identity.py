"""Who is in the record: patient ids become keyed hashes; owners never enter at all."""

import hashlib
import hmac
import os
import re
import secrets
from functools import lru_cache
from pathlib import Path

from pipeline.errors import SettingsFault

KEY_FILE = "patient_key"
LENGTH = 24
PSEUDONYM = re.compile(rf"[0-9a-f]{{{LENGTH}}}")

# Headers, cleaned, that name an owner or a way to reach one (en, de, fr, es, nl, it, pt).
OWNERS = re.compile(
    r"owner|client|customer|halter|besitzer|kunde|propri[eé]taire|d[eé]tenteur|propietario|due[nñ]o|eigenaar|cliente|"
    r"klant|proprietario|propriet[aá]rio|tutor|phone|telef|tel_|t[eé]l[eé]phone|telemovel|mobile|handy|cellulare|"
    r"address|adresse|anschrift|direcci[oó]n|direc[cç][aã]o|adres|indirizzo|endere[cç]o|morada|stra(?:ss|ß)e|street|"
    r"postcode|postal|plz|zip_?code|e_?mail|correo|surname|last_name|nachname|familienname|apellido|cognome|sobrenome|"
    r"patient_name|pet_name|animal_name|tiername|iban|chip"
)


def names_an_owner(header: str) -> bool:
    """Whether a cleaned header promises owner data.

    >>> names_an_owner("owner_phone"), names_an_owner("besitzer"), names_an_owner("weight_kg")
    (True, True, False)
    """
    return bool(OWNERS.search(header)) or header in ("tel", "fax", "name", "nom", "nombre", "naam", "nome")


@lru_cache(maxsize=4)
def key_of(clinic: Path) -> bytes:
    """The clinic's hashing key, made on first use, readable by its owner alone. Raises SettingsFault."""
    path = clinic / KEY_FILE
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        key = path.read_text(encoding="ascii", errors="replace").strip()
        if not re.fullmatch(r"[0-9a-f]{64}", key):
            raise SettingsFault(
                where=KEY_FILE,
                found="a key that is not 64 hexadecimal digits",
                wanted="the key file as rounds made it",
                fix="restore it from a backup; with another key known animals get new pseudonyms",
            ) from None
        return bytes.fromhex(key)
    key = secrets.token_hex(32)
    with os.fdopen(handle, "w", encoding="ascii") as stream:
        stream.write(key + "\n")
    return bytes.fromhex(key)


def pseudonym(key: bytes, patient: str) -> str:
    """24 hexadecimal digits of HMAC-SHA256: the same animal always the same, no way back without the key."""
    return hmac.new(key, patient.encode("utf-8"), hashlib.sha256).hexdigest()[:LENGTH]
