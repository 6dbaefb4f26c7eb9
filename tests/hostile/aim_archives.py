"""Hostile zip files in place of an earlier revision, which nobody has looked into before the program does."""

from __future__ import annotations

import io
import random
import struct
import warnings
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from functools import cache, partial
from pathlib import Path

from builders import changed, setting
from hostile_case import Answer, Hostile, Place, edited, heavy, then

INSIDE = "bag/data/project/"
RESULTS = f"{INSIDE}lab/results.csv"
FLIPS = 24
LOCAL, CENTRAL, END = b"PK\x03\x04", b"PK\x01\x02", b"PK\x05\x06"


@cache
def sound() -> bytes:
    """Return an earlier revision as a zip file, laid out as an archive is."""
    return packed(members())


def members() -> dict[str, bytes]:
    """Return the files of an earlier revision by their names in the archive."""
    files = {
        f"{INSIDE}{path}": file.content for path, file in changed().files.items() if not path.startswith("private")
    }
    return {"bag/bag-info.txt": b"Bag-Software-Agent: sitegen 0\n", **files}


def packed(
    files: Mapping[str, bytes], method: int = zipfile.ZIP_DEFLATED, more: tuple[tuple[str, bytes], ...] = ()
) -> bytes:
    """Return a zip file; ``more`` are members whose names may be there already."""
    out = io.BytesIO()
    with warnings.catch_warnings(), zipfile.ZipFile(out, "w", method) as pack:
        warnings.simplefilter("ignore")  # two members of one name are meant
        for name, content in (*files.items(), *more):
            pack.writestr(zipfile.ZipInfo(name, (2025, 1, 1, 0, 0, 0)), content, method)
    return out.getvalue()


Pack = Callable[[], bytes]


def _with(name: str, content: bytes = b"planted") -> Pack:
    return lambda: packed(members(), more=((name, content),))


UNSAFE_NAMES = {
    "traversal": "../../../around/neighbour/planted.txt",
    "traversal within": f"{INSIDE}records/../../../../neighbour/planted.txt",
    "an absolute path": "/tmp/planted.txt",  # noqa: S108 - named, never written
    "a drive": "C:/planted.txt",
    "backslashes": f"{INSIDE}records\\..\\..\\planted.txt",
    "a member twice": RESULTS,
    "a case clash": RESULTS.replace("results", "RESULTS"),
    "a folder's case clash": f"{INSIDE}LAB/results.csv",
}


def _unicode_forms() -> bytes:
    pair = ((f"{INSIDE}records/\u00e9.txt", b"1"), (f"{INSIDE}records/e\u0301.txt", b"2"))
    return packed(members(), more=pair)


def _edit(edit: Callable[[bytearray], None]) -> Pack:
    def apply() -> bytes:
        content = bytearray(sound())
        edit(content)
        return bytes(content)

    return apply


def _results_header(content: bytearray) -> tuple[int, int]:
    """Return where the local and the central header of the results begin."""
    name = RESULTS.encode()
    at = content.index(name)
    return at - 30, content.rindex(name) - 46


def _spoil_deflate(content: bytearray) -> None:
    start = _results_header(content)[0] + 30 + len(RESULTS)
    content[start : start + 8] = b"\xff" * 8


def _lie(size: int, content: bytearray) -> None:
    local, central = _results_header(content)
    for at in (local + 22, central + 24):
        content[at : at + 4] = struct.pack("<I", size)


def _wrong_sum(content: bytearray) -> None:
    local, central = _results_header(content)
    for at in (local + 14, central + 16):
        content[at : at + 4] = b"\x00\x11\x22\x33"


def _encrypted(content: bytearray) -> None:
    local, central = _results_header(content)
    content[local + 6] |= 1
    content[central + 8] |= 1


def _method(number: int, content: bytearray) -> None:
    local, central = _results_header(content)
    for at in (local + 8, central + 10):
        content[at : at + 2] = struct.pack("<H", number)


def _count(number: int, content: bytearray) -> None:
    at = content.rindex(END)
    content[at + 8 : at + 12] = struct.pack("<HH", number, number)


def _elsewhere(content: bytearray) -> None:
    at = content.rindex(END)
    content[at + 16 : at + 20] = struct.pack("<I", 0xFFFFFF00)


def _bomb(size: int) -> bytes:
    return packed(members() | {RESULTS: bytes(size)})


def _many_bombs() -> bytes:
    return packed(members() | {f"{INSIDE}records/{at}.txt": bytes(60 << 20) for at in range(12)})


def _many_members() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as pack:
        for at in range(120_000):
            pack.writestr(zipfile.ZipInfo(f"{INSIDE}records/{at:06}.txt"), b"")
        pack.writestr(f"{INSIDE}project.toml", b"")
    return out.getvalue()


def _overlapping() -> bytes:
    """Let 5,000 entries of the list of files share one deflated member of 10 MB."""
    body = zlib.compressobj(9, zlib.DEFLATED, -15)
    data = body.compress(bytes(10 << 20)) + body.flush()
    sums = struct.pack("<III", zlib.crc32(bytes(10 << 20)), len(data), 10 << 20)
    name = f"{INSIDE}project.toml".encode()
    local = LOCAL + struct.pack("<HHHHH", 20, 0, 8, 0, 0) + sums + struct.pack("<HH", len(name), 0) + name + data
    entries = []
    for at in range(5_000):
        other = name if not at else f"{INSIDE}records/{at}.txt".encode()
        head = struct.pack("<HHHHHH", 20, 20, 0, 8, 0, 0) + sums
        entries.append(CENTRAL + head + struct.pack("<HHHHHII", len(other), 0, 0, 0, 0, 0, 0) + other)
    listed = b"".join(entries)
    return local + listed + END + struct.pack("<HHHHIIH", 0, 0, 5_000, 5_000, len(listed), len(local), 0)


REFUSED: dict[str, Pack] = {
    **{what: _with(name) for what, name in UNSAFE_NAMES.items()},
    "two Unicode forms of a name": _unicode_forms,
    "corrupt deflate": _edit(_spoil_deflate),
    "a size told too small": _edit(partial(_lie, 3)),
    "a size told too large": _edit(partial(_lie, 1 << 31)),
    "a wrong checksum": _edit(_wrong_sum),
    "an encrypted member": _edit(_encrypted),
    **{f"method {number}": _edit(partial(_method, number)) for number in (1, 9, 12, 14, 93, 99)},
    "a list of files elsewhere": _edit(_elsewhere),
    "nothing": lambda: b"",
    "no zip": lambda: b"PK\x03\x04" + b"x" * 1000,
    "cut in half": lambda: sound()[: len(sound()) // 2],
    "without its end": lambda: sound()[: sound().rindex(END)],
    "no project in it": lambda: packed({"a.txt": b"x"}),
    "settings that are no TOML": lambda: packed(members() | {f"{INSIDE}project.toml": b"\xff"}),
}
HEAVY: dict[str, Pack] = {
    "a bomb of 200 MB": partial(_bomb, 200 << 20),
    "twelve members of 60 MB": _many_bombs,
    "120,000 members": _many_members,
    "5,000 members in the same bytes": _overlapping,
    "a member packed by LZMA": lambda: packed(members(), zipfile.ZIP_LZMA),
    "a member packed by BZIP2": lambda: packed(members(), zipfile.ZIP_BZIP2),
}
SOUND: dict[str, Pack] = {
    "more members told than there are": _edit(partial(_count, 65_534)),
    "bytes before it": lambda: b"x" * 5000 + sound(),
    "a comment of 65,000 bytes": _edit(
        lambda content: content.__setitem__(slice(-2, None), b"\xe8\xfd" + b"c" * 65_000)
    ),
    "private words and a link in it": lambda: packed(members() | {f"{INSIDE}private/x.csv": b"a\n"}),
}


def inputs() -> Iterator[Hostile]:
    """Yield the inputs of this class."""
    for what, pack in (REFUSED | HEAVY).items():
        places = (Place("project.toml" if what.startswith("settings") else "earlier.zip"),)
        one = Hostile("archives", what, _beside(pack), places=places, command=_COMPARED)
        yield heavy(one) if what in HEAVY else one
    for what, pack in SOUND.items():
        yield Hostile("archives", what, _beside(pack), Answer.READ, command=_COMPARED)
    for seed in range(FLIPS):
        command = _COMPARED if seed % 2 else ("check", "FOLDER")
        yield Hostile(
            "archives", f"a flipped bit, {seed}", _beside(partial(_flipped, seed)), Answer.BOUNDED, command=command
        )
    for what in ("traversal", "corrupt deflate", "nothing", "a member twice", "method 12", "settings that are no TOML"):
        told = (Place("project.toml"),)
        yield Hostile("archives", f"{what}, when checked", _beside(REFUSED[what]), Answer.TOLD, told)


_COMPARED = ("compare", "BESIDE/earlier.zip", "FOLDER")


def _beside(pack: Pack) -> Callable[[Path], None]:
    """Write the example with an earlier revision beside it."""
    named = setting("revision = 1\n", 'revision = 1\nprevious = "../earlier.zip"\n')
    return then(edited(named), lambda root: _wrote(root.parent / "earlier.zip", pack()))


def _wrote(path: Path, content: bytes) -> None:
    path.write_bytes(content)


def _flipped(seed: int) -> bytes:
    dice = random.Random(seed)  # noqa: S311 - the same damage every time
    content = bytearray(sound())
    start = 0 if seed % 4 < 2 else content.index(CENTRAL)  # half of them in the list of files
    content[dice.randrange(start, len(content))] ^= 1 << dice.randrange(8)
    return bytes(content)
