"""What a file is by its first bytes, whatever its name ends in."""

from pathlib import Path

from pipeline.errors import RefusedFile

SIGNS = (
    (b"PK\x03\x04", "workbook"),
    (b"\xd0\xcf\x11\xe0", "old_workbook"),
    (b"PAR1", "parquet"),
    (b"\x1f\x8b", "gzip"),
    (b"\x28\xb5\x2f\xfd", "zstandard"),
    (b"%PDF", "pdf"),
    (b"\x89PNG", "picture"),
    (b"\xff\xd8\xff", "picture"),
)
WORDS = {
    "workbook": "a spreadsheet workbook (.xlsx or .ods)",
    "old_workbook": "an old spreadsheet workbook (.xls)",
    "parquet": "a Parquet file",
    "gzip": "a gzip archive",
    "zstandard": "a zstandard archive",
    "pdf": "a PDF document",
    "picture": "a picture",
    "page": "a web page (HTML or XML)",
    "json": "JSON",
    "text": "plain text",
    "empty": "an empty file",
}
ENDINGS = {
    ".csv": "text", ".tsv": "text", ".txt": "text", ".tab": "text",
    ".xlsx": "workbook", ".xlsm": "workbook", ".ods": "workbook", ".xls": "old_workbook",
    ".parquet": "parquet", ".json": "json", ".ndjson": "json", ".jsonl": "json",
    ".gz": "gzip", ".zst": "zstandard",
}  # fmt: skip
# A workbook program names its files by habit; either kind is read.
TWINS = {("workbook", "old_workbook"), ("old_workbook", "workbook")}


def kind_of(head: bytes) -> str:
    """The kind of content that starts with these bytes.

    >>> kind_of(b"PK\\x03\\x04..."), kind_of(b"case_id,species"), kind_of(b"<html>")
    ('workbook', 'text', 'page')
    """
    for sign, kind in SIGNS:
        if head.startswith(sign):
            return kind
    start = head.removeprefix(b"\xef\xbb\xbf").lstrip()[:200].lower()
    if not start:
        return "empty"
    if start.startswith((b"<!doctype", b"<html", b"<?xml", b"<table")):
        return "page"
    if start.startswith((b'{"', b"{ ", b"{\n", b"{\r", b"[{", b"[\n", b"[ ", b"[\r")):
        return "json"
    return "text"


def head_of(path: Path, length: int = 4096) -> bytes:
    """First bytes of a file. Raises RefusedFile if it cannot be opened."""
    try:
        with path.open("rb") as stream:
            return stream.read(length)
    except FileNotFoundError as cause:
        raise RefusedFile(
            where=str(path), found="no such file", wanted="a file that exists", fix="check the name and the folder"
        ) from cause
    except OSError as cause:
        raise RefusedFile(
            where=path.name,
            found=f"the file cannot be opened ({cause.strerror or cause})",
            wanted="a file nobody else holds open",
            fix="close it in the other program, or wait for the synced folder, and load again",
        ) from cause


def check(path: Path) -> str:
    """The kind of a file; refuses one that is empty, unreadable or not what its ending says."""
    if path.is_dir():
        raise RefusedFile(where=path.name, found="a folder", wanted="a file", fix="name the files in it")
    kind, ending = kind_of(head_of(path)), path.suffix.casefold()
    if kind == "empty":
        raise RefusedFile(
            where=path.name,
            found="an empty file",
            wanted="a line of column names and rows below it",
            fix="export it again; the last export may have been interrupted",
        )
    said = ENDINGS.get(ending)
    if said is None:
        raise RefusedFile(
            where=path.name,
            found=f"a file ending in {ending or 'nothing'}",
            wanted=f"one of {', '.join(ENDINGS)}",
            fix="export it as CSV or XLSX",
        )
    if kind != said and (kind, said) not in TWINS:
        raise RefusedFile(
            where=path.name,
            found=f"{WORDS[kind]}, though its name ends in {ending}",
            wanted=f"{WORDS[said]}",
            fix="give the file the ending that fits it, or export it again",
        )
    return kind
