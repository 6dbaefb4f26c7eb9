"""Hostile files: odd bytes, odd kinds of file, odd names, links, and too much of everything."""

from __future__ import annotations

import os
import socket
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path

from builders import Change, content, removed
from hostile_case import Answer, Hostile, Impossible, Place, edited, heavy, then

READ = (
    "project.toml", "locations/locations.csv", "lab/results.csv", "field/weather.csv", "locations/features.geojson",
    "text/interpretation.md", "photos/sg-35.png", "records/field_sheet_1.txt", "private/contacts.csv",
)  # fmt: skip
"""A file of each kind that the program reads."""
TABLES_READ = tuple(path for path in READ if path.endswith((".csv", ".toml", ".geojson")) and "private" not in path)
LINE = b"0001,12.5,seen\n"


def inputs() -> Iterator[Hostile]:
    """Yield the inputs of this class."""
    yield from _bytes()
    yield from _kinds()
    yield from _names()
    yield from _sizes()
    yield from _folders()


# --- bytes ---------------------------------------------------------------------------------


SPOILT: dict[str, Callable[[bytes], bytes]] = {
    "UTF-16": lambda old: old.decode("utf-8", "replace").encode("utf-16"),
    "NUL in the middle": lambda old: old[: len(old) // 2] + b"\x00" * 5 + old[len(old) // 2 :],
    "cut in the middle of a character": lambda old: old[: len(old) // 2] + b"\xe2\x82",
    "nothing in it": lambda _: b"",
    "a megabyte of one letter": lambda _: b"a" * 1_000_000,
    "another kind of file": lambda _: b"\x7fELF" + bytes(range(256)) * 8,
}
MARK = b"\xef\xbb\xbf"
UNUSUAL: dict[str, Callable[[bytes], bytes]] = {
    "BOM": lambda old: MARK + old,
    "two BOMs": lambda old: MARK * 2 + old,
    "CR alone": lambda old: old.replace(b"\n", b"\r"),
    "CR and LF": lambda old: old.replace(b"\n", b"\r\n"),
}
TEXTS = tuple(path for path in READ if path.endswith((".csv", ".toml", ".geojson", ".md")))
SETTINGS = "project.toml"


def _bytes() -> Iterator[Hostile]:
    for what, spoil in SPOILT.items():
        places = tuple(Place(path) for path in TABLES_READ if path != SETTINGS)
        made = edited(*(Change(path, spoil) for path in READ if path != SETTINGS))
        yield Hostile("files", f"every file: {what}", made, places=places, aimed=len(READ) - 1)
        yield Hostile("files", f"the settings: {what}", edited(Change(SETTINGS, spoil)), places=(Place(SETTINGS),))
    for what, edit in UNUSUAL.items():
        answer = Answer.READ if what in ("BOM", "CR and LF") else Answer.BOUNDED
        made = edited(*(Change(path, edit) for path in TEXTS))
        yield Hostile("files", f"every text: {what}", made, answer, aimed=len(TEXTS))


# --- kinds of file -------------------------------------------------------------------------


def _pipe(path: Path) -> None:
    os.mkfifo(path)


def _device(path: Path) -> None:
    try:
        os.mknod(path, 0o600 | 0o020000, os.makedev(1, 5))  # a character device that gives zeros for ever
    except OSError as error:
        raise Impossible(f"mknod: {error.strerror}") from error


def _socket(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as one:
        here = Path.cwd()
        os.chdir(path.parent)
        try:
            one.bind(path.name)
        finally:
            os.chdir(here)


def _closed(path: Path) -> None:
    if os.geteuid() == 0:
        raise Impossible("whoever runs this may read any file")
    path.write_text("closed", encoding="utf-8")
    path.chmod(0)


def _outside(path: Path) -> None:
    top = next(parent for parent in path.parents if parent.name == "survey")
    path.symlink_to(top.parent / "neighbour/keep.txt")


KINDS: dict[str, Callable[[Path], None]] = {
    "a folder": lambda path: path.mkdir(),
    "a pipe": _pipe,
    "a device": _device,
    "a socket": _socket,
    "a link out of the folder": _outside,
    "a link to itself": lambda path: path.symlink_to(path),
    "a link to nothing": lambda path: path.symlink_to(path.with_name("nothing")),
    "a link to endless zeros": lambda path: path.symlink_to("/dev/zero"),
    "a link to the folder above": lambda path: path.symlink_to("..", target_is_directory=True),
    "a file that is closed": _closed,
}


def _kinds() -> Iterator[Hostile]:
    for what, plant in KINDS.items():
        paths = (*(path for path in READ if path != SETTINGS), "records/more.txt", "theme/more.css")
        told = [path for path in paths if what != "a folder" or not path.startswith(FREE)]
        yield _kind(f"every file: {what}", plant, paths, told)
        yield _kind(f"the settings: {what}", plant, (SETTINGS,), (SETTINGS,))


FREE = ("records", "photos", "theme", "private")
"""Folders that may hold folders."""


def _kind(name: str, plant: Callable[[Path], None], paths: Sequence[str], told: Sequence[str]) -> Hostile:
    def more(root: Path) -> None:
        for path in paths:
            _planted(path, plant, root)

    make = then(edited(*map(removed, paths)), more)
    return Hostile("files", name, make, places=tuple(map(Place, told)), aimed=len(paths))


def _planted(path: str, plant: Callable[[Path], None], root: Path) -> None:
    target = root / path
    target.parent.mkdir(parents=True, exist_ok=True)
    plant(target)


# --- names ---------------------------------------------------------------------------------

NAMES = {
    "not UTF-8": b"\xff\xfe\xe9.txt",
    "with a line feed": b"a\nb.txt",
    "with an escape": b"a\x1b[2Jb.txt",
    "from right to left": "\u202etxt.exe".encode(),
    "with quotes and markup": b"<img src=x onerror=window.ran=1>'\".txt",
    "of 255 bytes": b"n" * 251 + b".txt",
    "with a backslash": b"..\\..\\x.txt",
    "in the other Unicode form": "e\u0301.txt".encode(),
    "that another system reserves": b"CON.txt",
    "with a formula": b"=1+1.txt",
    "with a percent": b"%2e%2e%2fx.txt",
    "with a template": b"{{ 7*7 }}.txt",
}


def _names() -> Iterator[Hostile]:
    for folder in ("records", "text", "photos", "lab", "theme", "private", "field"):
        make = then(edited(), partial(_named, folder, tuple(NAMES.values())))
        yield Hostile("files", f"{folder}/: odd names", make, Answer.BOUNDED, aimed=len(NAMES))
    for what, name in NAMES.items():
        make = then(edited(small=True), partial(_named, "records", (name,)))
        yield Hostile("files", f"records/: a name {what}", make, Answer.BOUNDED)


def _named(folder: str, names: Sequence[bytes], root: Path) -> None:
    where = os.fsencode(root / folder)
    os.makedirs(where, exist_ok=True)  # noqa: PTH103 - the name need not be UTF-8
    for name in names:
        with open(os.path.join(where, name), "wb") as file:  # noqa: PTH118, PTH123 - as above
            file.write(b"words\n")


# --- too much ------------------------------------------------------------------------------


def _sizes() -> Iterator[Hostile]:
    header = b"sampler_id,x_value,note\n"
    wide = ",".join(f"x_{at}" for at in range(100_000)).encode()
    path = "field/weather.csv"
    large = {
        "one quote left open in 100,000 rows": b'at,note\n2025-11-01T00:00,"open\n' + LINE * 100_000,
        "a quote left open in each of 100,000 rows": b"at,note\n" + b'a,"b\n' * 100_001,
        "100,000 columns": b"at," + wide + b"\n",
        "100,000 columns of one name": b"at" + b",at" * 100_000 + b"\n",
        "1,100,000 rows": header + LINE * 1_100_000,
        "rows of rising length": b"at\n" + b"\n".join(b"," * at for at in range(2_000)),
        "a line of 20 MB": b"at\n" + b"x" * 20_000_000,
        "20 MB of commas": b"at\n" + b"," * 20_000_000,
        "20 MB of quotes": b"at\n" + b'"' * 20_000_001,
        "20 MB of line feeds": b"at\n" + b"\n" * 20_000_000,
        "60 MB of cells": b",".join(b"x_%d" % at for at in range(30)) + b"\n" + (b"1," * 29 + b"1\n") * 1_000_000,
    }
    for what, new in large.items():
        blank = "line feeds" in what or "rising" in what  # rows of nothing are passed over
        told = Answer.BOUNDED if blank else Answer.REFUSED
        places = (Place(path),) if told is Answer.REFUSED else ()
        yield heavy(Hostile("files", f"{path}: {what}", edited(content(path, new)), told, places))
    yield heavy(Hostile("files", "10,000 files in records/", then(edited(), _many), Answer.BOUNDED))
    yield heavy(
        Hostile("files", "a file of 600 MB, empty on disk", then(edited(), _hole), places=(Place("records/hole"),))
    )
    yield Hostile("files", "100 folders within each other", then(edited(), _deep), Answer.BOUNDED)
    yield Hostile("files", "1,000 links to one folder", then(edited(), _links), places=(Place("records/link_0"),))


def _many(root: Path) -> None:
    for at in range(10_000):
        (root / f"records/{at}.txt").write_bytes(b"x")


def _hole(root: Path) -> None:
    with (root / "records/hole").open("wb") as file:
        file.truncate(600 * 1024**2)


def _deep(root: Path) -> None:
    path = root / "records" / "/".join("d" for _ in range(100))
    path.mkdir(parents=True)
    (path / "x.txt").write_bytes(b"x")


def _links(root: Path) -> None:
    for at in range(1_000):
        (root / f"records/link_{at}").symlink_to(root / "photos", target_is_directory=True)


# --- the folder itself ---------------------------------------------------------------------


def _wrote(path: Path) -> None:
    path.write_bytes(b"no folder")


def _folders() -> Iterator[Hostile]:
    odd: dict[str, Callable[[Path], None]] = {
        "nothing": lambda _: None,
        "a file": _wrote,
        "a pipe": _pipe,
        "a link to itself": lambda path: path.symlink_to(path),
    }
    for what, plant in odd.items():
        yield Hostile("files", f"{what} in place of the survey", plant, places=(Place("around/survey"),))
    yield Hostile(
        "files", "an empty folder in place of the survey", lambda path: path.mkdir(), places=(Place("project.toml"),)
    )
    for name in ("x" * 300, "a\x00b", "/dev/null", "/proc/self/mem", "\udcff"):
        yield Hostile("files", f"the survey called {name[:20]!a}", edited(), command=("check", name))
