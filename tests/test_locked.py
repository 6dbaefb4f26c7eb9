"""The lock is in step with what the program asks for, without a network: nothing is missing, nothing is too much.

What the packages themselves ask for is read from those that are installed at the version in the lock.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from importlib.metadata import PackageNotFoundError, distribution
from importlib.resources import files
from itertools import product
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from sitegen.archive import provenance
from sitegen.archive.locked import LOCK, Locked, locked, read_lock
from sitegen.archive.provenance import dependency_lock

ROOT = Path(__file__).resolve().parent.parent
OURS = "sitegen (pyproject.toml)"
PYTHONS = ("3.11.5", "3.12.0", "3.13.0", "3.14.0")
SYSTEMS = (("linux", "Linux", "posix"), ("darwin", "Darwin", "posix"), ("win32", "Windows", "nt"))


def environments() -> Iterator[dict[str, str]]:
    """Yield what markers are judged by, for each Python and system that the lock is for."""
    for full, (platform, system, os_name) in product(PYTHONS, SYSTEMS):
        yield {
            "python_version": full.rpartition(".")[0],
            "python_full_version": full,
            "sys_platform": platform,
            "platform_system": system,
            "os_name": os_name,
            "platform_machine": "x86_64",
            "implementation_name": "cpython",
            "platform_python_implementation": "CPython",
            "extra": "",
        }


def needs(lines: Iterable[str]) -> list[Requirement]:
    """Return those of the requirements that hold under one of the environments."""
    wanted = [Requirement(line) for line in lines]
    return [one for one in wanted if one.marker is None or any(map(one.marker.evaluate, environments()))]


def own_needs() -> list[Requirement]:
    """Return what pyproject.toml asks for at run time."""
    return needs(tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["dependencies"])


def installed_needs(lock: Mapping[str, Locked]) -> dict[str, list[Requirement]]:
    """Return what each package asks for, of those that are installed at the version in the lock."""
    asked = {}
    for name, package in lock.items():
        try:
            about = distribution(name)
        except PackageNotFoundError:
            continue
        if about.version == package.version:
            asked[name] = needs(about.requires or [])
    return asked


def faults(asked: Mapping[str, list[Requirement]], lock: Mapping[str, Locked]) -> Iterator[str]:
    """Yield what is missing in a lock, too old or too new, or there for no reason."""
    for asker, requirements in asked.items():
        names = {canonicalize_name(one.name): one for one in requirements}
        for name, requirement in names.items():
            if name not in lock:
                yield f"{asker} needs {name}, which is not locked"
            elif not requirement.specifier.contains(lock[name].version, prereleases=True):
                yield f"{asker} needs {requirement}, and {lock[name].version} is locked"
            elif asker not in lock[name].needed_by:
                yield f"the lock does not say that {asker} needs {name}"
        for package in lock.values():
            if asker in package.needed_by and package.name not in names:
                yield f"the lock says that {asker} needs {package.name}"
    yield from (f"nothing that is asked for needs {name}" for name in sorted(lock.keys() - reached(lock)))


def reached(lock: Mapping[str, Locked]) -> set[str]:
    """Return the packages that pyproject.toml asks for, directly or by way of others, as the lock says."""
    seen: set[str] = set()
    ahead = {OURS}
    while ahead:
        seen |= ahead
        ahead = {package.name for package in lock.values() if set(package.needed_by) & ahead} - seen
    return seen


def test_the_lock_is_in_step_with_what_is_asked_for() -> None:
    """Every requirement of pyproject.toml and of the locked packages is met, and each locked package is needed."""
    asked = {OURS: own_needs()} | installed_needs(locked())
    assert list(faults(asked, locked())) == []
    assert len(asked[OURS]) > 20


def test_every_package_of_the_lock_has_the_digests_of_its_files() -> None:
    """Each digest stands once, no two packages share one, and the file is that of its packages, sorted."""
    digests = [digest for package in locked().values() for digest in package.sha256]
    assert len(set(digests)) == len(digests)
    assert all(package.sha256 == tuple(sorted(package.sha256)) for package in locked().values())
    text = files("sitegen").joinpath(LOCK).read_text("utf-8")
    body = "".join(f"{one.entry()}    # via {', '.join(one.needed_by)}\n" for one in locked().values())
    assert text.endswith(f"\n{body}")
    assert list(locked()) == sorted(locked())


LOCKED = {
    "a": Locked("a", "2.0", ("0" * 64,), (OURS,)),
    "b": Locked("b", "1.0", ("1" * 64,), ("a",)),
}
ASKED = {OURS: needs(["a>=2", "c; python_version < '3.8'"]), "a": needs(["B~=1.0"]), "b": []}
CHANGES: dict[str, tuple[dict[str, list[Requirement]], dict[str, Locked], str]] = {
    "nothing": ({}, {}, ""),
    "a new requirement": ({OURS: needs(["a", "d"])}, {}, f"{OURS} needs d, which is not locked"),
    "one of a system": ({"b": needs(["e; os_name == 'nt'"])}, {}, "b needs e, which is not locked"),
    "a newer one": ({OURS: needs(["a>2"])}, {}, f"{OURS} needs a>2, and 2.0 is locked"),
    "an older one": ({"a": needs(["b<1"])}, {}, "a needs b<1, and 1.0 is locked"),
    "one less": ({"a": []}, {}, "the lock says that a needs b"),
    "an untold need": ({"b": needs(["a"])}, {}, "the lock does not say that b needs a"),
    "an orphan": ({}, {"f": Locked("f", "1", ("2" * 64,), ("g",))}, "nothing that is asked for needs f"),
}


@pytest.mark.parametrize("case", CHANGES)
def test_a_lock_out_of_step_is_told(case: str) -> None:
    """What is missing, too old, too new or no longer needed is named."""
    asked, more, told = CHANGES[case]
    assert list(faults(ASKED | asked, LOCKED | more)) == ([told] if told else [])


@pytest.mark.parametrize(
    "text",
    [
        "a==1.0\n",
        f"a==1.0 \\\n    --hash=sha256:{'0' * 63}\n    # via b\n",
        f"a>=1.0 \\\n    --hash=sha256:{'0' * 64}\n",
        f"a==1.0 \\\n    --hash=md5:{'0' * 32}\n",
        f"a==1.0 \\\n    --hash=sha256:{'0' * 64}\na==2.0 \\\n    --hash=sha256:{'1' * 64}\n",
    ],
)
def test_a_lock_of_another_form_is_refused(text: str) -> None:
    """A package without a digest, without one version, or named twice is an error."""
    with pytest.raises(ValueError, match=r"not a package with version and SHA-256|stands in the lock twice"):
        read_lock(text)


def test_an_archive_has_the_digests_where_every_package_is_as_locked(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its list can be read as a lock again; a package of another version is named, and then none has a digest."""
    monkeypatch.setattr(provenance, "dependency_names", lambda: ("a", "b"))
    monkeypatch.setattr(provenance, "version", lambda name: LOCKED[name].version)
    monkeypatch.setattr(provenance, "locked", lambda: LOCKED)
    whole = dependency_lock().decode()
    assert read_lock(whole) == {name: replace(one, needed_by=()) for name, one in LOCKED.items()}
    monkeypatch.setattr(provenance, "locked", lambda: LOCKED | {"b": replace(LOCKED["b"], version="1.1")})
    head, told, *packages = dependency_lock().decode().splitlines()
    assert head == whole.splitlines()[0]
    assert told == "# no SHA-256 is given: not of a version in this program's lock: b"
    assert packages == ["a==2.0", "b==1.0"]
    monkeypatch.setattr(provenance, "locked", lambda: {"a": LOCKED["a"]})
    assert dependency_lock().decode().splitlines()[1:] == [told, *packages]
