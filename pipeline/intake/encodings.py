"""Any text file as a UTF-8 stream with plain line ends: archives opened, encodings told, nothing lost unsaid."""

import codecs
import gzip
import hashlib
import io
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

from pipeline.errors import RefusedFile
from pipeline.intake import contents
from pipeline.intake.grid import Note

BLOCK = 4 << 20
# Enough of a file to hold its header [bytes].
HEAD = 256 << 10
# Text up to this size is decoded in memory, larger text through a temporary file [bytes].
IN_MEMORY = 64 << 20
UNREADABLE = "\ufffd"


@dataclass
class Decoded:
    """A text file as UTF-8: the stream, its encoding in the file, whether some bytes could not be read, and
    whether all of it was looked at."""

    path: Path
    stream: BinaryIO
    encoding: str
    damaged: bool = False
    checked: bool = True
    notes: list[Note] = field(default_factory=list)

    def head(self) -> str:
        """The first part of the text, for finding the header."""
        self.stream.seek(0)
        return _start_of(self.stream.read(HEAD), "utf-8-sig")


def head(path: Path) -> str:
    """The first part of a text file, for finding its header, without reading the rest."""
    with _whole_archive(path), _opened(path) as stream:
        start = stream.read(HEAD)
    signs = _signs(io.BytesIO(start[: start.rfind(b"\n") + 1] or start))
    return _start_of(start, _encoding(start, signs))


def _start_of(start: bytes, encoding: str) -> str:
    return io.IncrementalNewlineDecoder(codecs.getincrementaldecoder(encoding)("replace"), True).decode(start)


def sha256(path: Path) -> str:
    """Hash of the file's bytes as they lie on disk."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def as_utf8(path: Path) -> Decoded | None:
    """The file itself, if its beginning is UTF-8; the rest is for the reader to check. None for anything else."""
    with _opened(path) as stream:
        if not isinstance(stream, io.BufferedReader):
            return None
        start = stream.read(HEAD)
    encoding = _encoding(start, _signs(io.BytesIO(start[: start.rfind(b"\n") + 1])))
    return Decoded(path, path.open("rb"), encoding, checked=False) if encoding in ("utf-8", "utf-8-sig") else None


def decode(path: Path, encoding: str = "") -> Decoded:
    """The file as UTF-8. Encodings: the one given, else byte-order mark, else UTF-8, else UTF-16 by its zero bytes,
    else Windows-1252."""
    stream = _unpacked(path)
    if encoding:
        with stream:
            text, damaged = _rewritten(stream, encoding)
        return Decoded(path, text, encoding, damaged)
    signs = _signs(stream)
    stream.seek(0)
    encoding = _encoding(stream.read(BLOCK), signs)
    notes = []
    if encoding in ("utf-8", "utf-8-sig") and signs.valid and not signs.lone_returns and not signs.zeros:
        return Decoded(path, stream, encoding)
    if encoding == "cp1252":
        notes.append(Note("F1", "A", "", 1, "The file is not UTF-8; it was read as Windows-1252 (Western European)."))
    elif not encoding.startswith("utf-8"):
        notes.append(Note("F1", "A", "", 1, f"The file was read as {encoding.upper()}."))
    text, damaged = _rewritten(stream, encoding)
    stream.close()
    return Decoded(path, text, encoding, damaged, notes=notes)


@contextmanager
def _whole_archive(path: Path) -> Iterator[None]:
    """Turns what gzip and zstandard raise over a broken archive into a RefusedFile."""
    try:
        yield
    except Exception as cause:
        if type(cause).__module__.partition(".")[0] not in ("gzip", "zlib", "zstandard", "zstd", "builtins"):
            raise
        if type(cause).__module__ == "builtins" and not isinstance(cause, EOFError):
            raise
        raise RefusedFile(
            where=path.name,
            found=f"an archive that cannot be unpacked to its end ({cause})",
            wanted="a whole archive",
            fix="copy or export the file again",
        ) from cause


def _opened(path: Path) -> BinaryIO:
    kind = contents.kind_of(contents.head_of(path))
    if kind == "gzip":
        return gzip.open(path, "rb")
    if kind == "zstandard":
        import zstandard

        return zstandard.open(path, "rb")
    return path.open("rb")


def _unpacked(path: Path) -> BinaryIO:
    """The file's bytes, decompressed if it is a gzip or zstandard archive."""
    if contents.kind_of(contents.head_of(path)) not in ("gzip", "zstandard"):
        return path.open("rb")
    unpacked = tempfile.SpooledTemporaryFile(IN_MEMORY)  # noqa: SIM115 - the caller reads from it
    with _whole_archive(path), _opened(path) as packed:
        while block := packed.read(BLOCK):
            unpacked.write(block)
    unpacked.seek(0)
    inside = contents.kind_of(unpacked.read(4096))
    if inside not in ("text", "json"):
        raise RefusedFile(
            where=path.name,
            found=f"an archive holding {contents.WORDS[inside]}",
            wanted="an archive holding one text file",
            fix="unpack it and load what is in it",
        )
    return unpacked


@dataclass
class _Signs:
    valid: bool = True
    broken: bytes = b""
    lone_returns: bool = False
    zeros: bool = False


def _signs(stream: BinaryIO) -> _Signs:
    """One pass over the bytes: valid UTF-8 (and the first block that is not), carriage returns without a line feed,
    zero bytes."""
    signs, decoder = _Signs(), codecs.getincrementaldecoder("utf-8")()
    stream.seek(0)
    last = b""

    def text(block):
        if block.isascii() and not decoder.getstate()[0]:
            return
        decoder.decode(block)

    while block := stream.read(BLOCK):
        if signs.valid:
            try:
                text(block)
            except UnicodeDecodeError:
                signs.valid, signs.broken = False, block
        returns = block.count(b"\r")
        if last == b"\r":
            signs.lone_returns |= not block.startswith(b"\n")
        if returns:
            signs.lone_returns |= returns - block.endswith(b"\r") != block.count(b"\r\n")
        signs.zeros |= b"\0" in block
        last = block[-1:]
    signs.lone_returns |= last == b"\r"
    if signs.valid:
        try:
            decoder.decode(b"", final=True)
        except UnicodeDecodeError:
            signs.valid, signs.broken = False, last
    return signs


def _encoding(start: bytes, signs: _Signs) -> str:
    for mark, name in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF32_LE, "utf-32"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if start.startswith(mark):
            return name
    if signs.zeros:
        sample = start[:4096]
        even, odd = sample[::2].count(0), sample[1::2].count(0)
        if max(even, odd) > 0.2 * len(sample):
            return "utf-16-le" if odd > even else "utf-16-be"
    if signs.valid:
        return "utf-8"
    # Windows-1252 is hardly ever good UTF-8 by chance: with as many good letters as broken ones it is UTF-8,
    # and its broken lines are set apart.
    letters = [letter for letter in signs.broken.decode("utf-8", "replace") if letter > "\x7f"]
    return "utf-8" if 2 * letters.count(UNREADABLE) <= len(letters) else "cp1252"


def _rewritten(stream: BinaryIO, encoding: str) -> tuple[BinaryIO, bool]:
    """The text as UTF-8 with line feeds only, and whether a byte could not be read (now U+FFFD)."""
    text = tempfile.SpooledTemporaryFile(IN_MEMORY)  # noqa: SIM115 - the caller reads from it
    damaged = False
    stream.seek(0)
    decoder = io.IncrementalNewlineDecoder(codecs.getincrementaldecoder(encoding)("replace"), translate=True)
    while True:
        block = stream.read(BLOCK)
        part = decoder.decode(block, final=not block)
        damaged |= UNREADABLE in part or "\0" in part
        text.write(part.encode("utf-8", "replace"))
        if not block:
            break
    text.seek(0)
    return text, damaged
