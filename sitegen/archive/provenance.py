"""What was made from what, by what: the record that a bag carries, in terms of W3C PROV.

The JSON follows the names of PROV-JSON (entity, activity, agent, used, wasGeneratedBy,
wasAssociatedWith, wasDerivedFrom). It holds no times of the clock and no machine path.
"""

from __future__ import annotations

import json
import platform
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.metadata import PackageNotFoundError, distribution, version
from importlib.resources import files
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from sitegen import __version__
from sitegen.archive.locked import locked
from sitegen.plugins import plugins
from sitegen.project.folder import Folder
from sitegen.project.settings import Settings
from sitegen.project.zones import ZONE_DATA_VERSION
from sitegen.render.place.fixity import fixity_of_file, tree_digest

PROVENANCE = "data/provenance.json"
DEPENDENCIES = "data/dependencies.txt"
PROGRAM = "sitegen"
MARK = f"urn:{PROGRAM}:archive:"
"""What the head of every provenance record of this program holds, and no other program's."""


@dataclass(frozen=True, slots=True)
class Making:
    """How a report came to be: its inputs, settings, and the digest of each of its builds."""

    inputs: Folder
    settings: Settings
    content_digest: str
    output_digests: tuple[str, ...]
    issue: bool


def versions() -> dict[str, str]:
    """Return the versions of the program, of Python, of the zone data and of every library in use.

    ``sitegen-code`` is a digest of the program's own files, since two states of a program
    can carry one version number.
    """
    own = {
        PROGRAM: __version__,
        f"{PROGRAM}-code": program_digest()[:16],
        "python": platform.python_version(),
        "zone-data": ZONE_DATA_VERSION,
    }
    return own | {name: version(name) for name in dependency_names()}


@cache
def program_digest() -> str:
    """Return one digest of all files of the program: code, templates and data."""
    root = Path(str(files(PROGRAM)))
    names = (path.relative_to(root).as_posix() for path in root.rglob("*") if path.is_file())
    kept = [name for name in names if "__pycache__" not in name and not name.endswith(".pyc")]
    return tree_digest({name: fixity_of_file(root / name) for name in kept})


def dependency_names() -> tuple[str, ...]:
    """Return the names of all packages that the program needs, directly or through others, those of plug-ins too."""
    others = {canonicalize_name(plugin.package) for plugin in plugins()}
    waiting = [PROGRAM, *sorted(name for name in others if name != PROGRAM)]
    seen = set(waiting[1:])
    while waiting:
        for name in _needs(waiting.pop()):
            if name not in seen and name != PROGRAM:
                seen.add(name)
                waiting.append(name)
    return tuple(sorted(seen))


def _needs(name: str) -> Iterator[str]:
    try:
        lines = distribution(name).requires or []
    except PackageNotFoundError:
        return
    for line in lines:
        need = Requirement(line)
        wanted = need.marker is None or need.marker.evaluate({"extra": ""})
        if wanted and _is_installed(need.name):
            yield canonicalize_name(need.name)


def _is_installed(name: str) -> bool:
    try:
        return bool(version(name))
    except PackageNotFoundError:
        return False


def dependency_lock() -> bytes:
    """Return every package that the program needs with its version, sorted, for ``pip install -r``.

    Each has the SHA-256 of that version's files where all are of the versions in the program's lock. Otherwise
    none has, since pip takes hashes for all packages or for none, and the head names those that differ.
    """
    running = {name: version(name) for name in dependency_names()}
    known = {name: locked()[name] for name, is_at in running.items() if _locked_version(name) == is_at}
    others = [name for name in running if name not in known]
    lines = [f"# {PROGRAM} {__version__} under Python {platform.python_version()} needs:\n"]
    if others:
        lines.append(f"# no SHA-256 is given: not of a version in this program's lock: {', '.join(others)}\n")
        lines += [f"{name}=={is_at}\n" for name, is_at in running.items()]
    else:
        lines += [package.entry() for package in known.values()]
    return "".join(lines).encode()


def _locked_version(name: str) -> str:
    return locked()[name].version if name in locked() else ""


def provenance_json(making: Making) -> bytes:
    """Return the provenance of a report as JSON."""
    record: Mapping[str, Any] = {
        "prefix": {"prov": "http://www.w3.org/ns/prov#", "this": MARK},
        "entity": {**_inputs(making.inputs), **_outputs(making)},
        "activity": {run: _run(making) for run in _runs(making)},
        "agent": {f"this:{name}": _agent(name, is_at) for name, is_at in versions().items()},
        "used": {f"_:u{at}": {"prov:activity": run, "prov:entity": "this:project"} for at, run in _at(making)},
        "wasGeneratedBy": {
            f"_:g{at}": {"prov:entity": f"this:site-{at}", "prov:activity": run} for at, run in _at(making)
        },
        "wasAssociatedWith": {
            f"_:a{at}": {"prov:activity": run, "prov:agent": f"this:{PROGRAM}"} for at, run in _at(making)
        },
        "wasDerivedFrom": {
            f"_:d{at}": {"prov:generatedEntity": f"this:site-{at}", "prov:usedEntity": "this:project"}
            for at, _ in _at(making)
        },
        "settings": making.settings.model_dump(mode="json"),
    }
    return (json.dumps(record, indent=1, ensure_ascii=False) + "\n").encode()


def _runs(making: Making) -> tuple[str, ...]:
    return tuple(f"this:build-{number}" for number, _ in enumerate(making.output_digests, start=1))


def _at(making: Making) -> Iterator[tuple[int, str]]:
    yield from enumerate(_runs(making), start=1)


def _inputs(folder: Folder) -> dict[str, dict[str, Any]]:
    return {
        f"this:data/project/{path}": {
            "prov:type": "input",
            "this:sha256": file.sha256,
            "this:bytes": file.size,
        }
        for path, file in sorted(folder.files.items())
    }


def _outputs(making: Making) -> dict[str, dict[str, Any]]:
    project = {"prov:type": "prov:Collection", "this:content-digest": making.content_digest}
    sites = {
        f"this:site-{number}": {"prov:type": "prov:Collection", "this:output-digest": digest}
        for number, digest in enumerate(making.output_digests, start=1)
    }
    return {"this:project": project, **sites}


def _run(making: Making) -> dict[str, Any]:
    issue = " --issue" if making.issue else ""
    command = f"{PROGRAM} build data/project --out OUT{issue}"
    return {"prov:type": "build", "this:command": command, "this:issue": making.issue}


def _agent(package: str, is_at: str) -> dict[str, Any]:
    """Return what is said of a package; of one with plug-ins also what it adds to the program."""
    adds = [f"{plugin.group}:{plugin.name}" for plugin in plugins() if canonicalize_name(plugin.package) == package]
    extends = {"this:plugins": adds} if adds else {}
    return {"prov:type": "prov:SoftwareAgent", "this:version": is_at, **extends}


@dataclass(frozen=True, slots=True)
class Told:
    """What a bag's provenance says, as far as a later proof needs it."""

    issue: bool
    versions: dict[str, str]


def read_provenance(content: bytes) -> Told:
    """Read a provenance record; raises ValueError where it is not of this form."""
    try:
        record = json.loads(content)
        runs = [run["this:issue"] for run in record["activity"].values()]
        agents = {name.removeprefix("this:"): agent["this:version"] for name, agent in record["agent"].items()}
        return Told(bool(runs[0]), {str(name): str(is_at) for name, is_at in agents.items()})
    except (LookupError, TypeError, AttributeError, UnicodeDecodeError, RecursionError) as error:
        raise ValueError(f"not a provenance record of sitegen: {error}") from error
