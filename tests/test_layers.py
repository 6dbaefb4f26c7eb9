"""Rooms import downwards only, and a few rooms keep what they know to themselves."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest
from packaging.utils import canonicalize_name

import sitegen
from sitegen.archive.locked import locked

ROOT = Path(sitegen.__file__).parent
ROOMS = (
    ("__main__",),
    ("cli",),
    ("outdoors", "handover", "comparing"),
    ("telling", "terminal", "folders"),
    ("shelf",),
    ("archive", "preview", "fieldwork", "letter"),
    ("planning", "lonemap"),
    ("planwords",),
    ("library",),
    ("pipeline",),
    ("render",),
    ("report",),
    ("figures",),
    ("checking",),
    ("checks",),
    ("compute",),
    ("project",),
    ("plugins",),
    ("findings", "units", "glyphs", "kept"),
    ("voice",),
)
LEVEL = {room: level for level, rooms in enumerate(ROOMS) for room in rooms}
MODULES = sorted(path for path in ROOT.rglob("*.py") if path != ROOT / "__init__.py")


def room_of(path: Path) -> str:
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def module_of(path: Path) -> str:
    """Return the dotted name of a file; a folder's ``__init__`` has the folder's."""
    return ".".join(("sitegen", *path.relative_to(ROOT).with_suffix("").parts)).removesuffix(".__init__")


def folder_of(module: str) -> str:
    """Return the folder of a module inside its room: ``compute.field``; a module of no folder is one of its own."""
    return ".".join(module.split(".")[1:3])


def imports(path: Path) -> Iterator[str]:
    """Yield every module that a file imports, those inside functions included."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_room_imports_only_from_rooms_below_it(path: Path) -> None:
    """Every import of our own leads to the same room or to a lower one."""
    own = LEVEL[room_of(path)]
    for name in imports(path):
        parts = name.split(".")
        if parts[0] == "sitegen" and len(parts) > 1 and parts[1] in LEVEL:
            assert parts[1] == room_of(path) or LEVEL[parts[1]] > own, f"{path.name} imports {name}"


def test_every_package_that_is_imported_is_one_that_is_installed_with_the_program() -> None:
    """What a test's environment has beside them is not there for whoever installs the program alone."""
    known = {canonicalize_name(name) for name in locked()}
    packages = packages_distributions()
    for path in MODULES:
        for top in {name.split(".")[0] for name in imports(path)} - {"sitegen", "__future__"} - sys.stdlib_module_names:
            behind = {canonicalize_name(name) for name in packages.get(top, ())}
            if (path.name, top) == ("library.py", "geopandas"):
                continue  # a notebook's own, asked for where a frame of shapes is wanted
            assert behind & known, f"{path.name} imports {top}, of {behind or 'no package'}"


def test_only_the_site_writer_imports_mkdocs() -> None:
    """The static-site generator stays behind one module."""
    users = {p.name for p in MODULES if any(n.split(".")[0] in ("mkdocs", "material") for n in imports(p))}
    assert users == {"site.py"}


def test_only_the_command_line_prints() -> None:
    """No other module calls print or imports rich or typer, what it shares with its commands aside."""
    for path in MODULES:
        if path.name in ("cli.py", "comparing.py", "handover.py", "outdoors.py", "telling.py", "terminal.py"):
            continue
        calls = [n for n in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(n, ast.Call)]
        assert not [c for c in calls if isinstance(c.func, ast.Name) and c.func.id == "print"], path
        assert not {n.split(".")[0] for n in imports(path)} & {"rich", "typer"}, path


def test_writers_know_the_report_and_no_survey() -> None:
    """The render room imports nothing of project, compute or checks."""
    for path in MODULES:
        if room_of(path) == "render":
            rooms = {n.split(".")[1] for n in imports(path) if n.startswith("sitegen.")}
            assert not rooms & {"project", "compute", "checks", "figures"} - {"figures"}, path


@cache
def own_imports() -> Mapping[str, frozenset[str]]:
    """Return, for each module of ours, the modules of ours that it imports itself."""
    known = {module_of(path): path for path in MODULES}
    return {name: frozenset(imports(path)) & known.keys() - {name} for name, path in known.items()}


def reach(start: str, arrows: Mapping[str, Iterable[str]]) -> set[str]:
    """Return everything that can be come to along the arrows, itself only in a circle."""
    seen: set[str] = set()
    ahead = list(arrows.get(start, ()))
    while ahead:
        name = ahead.pop()
        if name not in seen:
            seen.add(name)
            ahead += arrows.get(name, ())
    return seen


def test_no_circle_of_modules() -> None:
    """No module imports itself by way of others."""
    assert [name for name in own_imports() if name in reach(name, own_imports())] == []


def test_the_folders_of_a_room_stand_one_above_the_other() -> None:
    """Of two folders in a room only one knows of the other, directly or by way of others."""
    arrows: dict[str, set[str]] = {}
    for name, others in own_imports().items():
        folder = folder_of(name)
        room = folder.partition(".")[0]
        same = {folder_of(other) for other in others if other.count(".") > 1 and other.split(".")[1] == room}
        arrows.setdefault(folder, set()).update(same - {folder})
    assert [folder for folder in arrows if folder in reach(folder, arrows)] == []


def test_a_circle_would_be_seen() -> None:
    """What imports itself by way of two others is in its own reach."""
    assert "a" in reach("a", {"a": ["b"], "b": ["c"], "c": ["a"]})
    assert "a" not in reach("a", {"a": ["b"], "b": ["c"]})
