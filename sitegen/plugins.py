"""What other installed packages add to the program by entry points: checks, pages and laboratory layouts.

``docs/extending.md`` says how such a package is written. Plug-ins are sorted by name, so that
the order in which packages were installed changes nothing.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib.metadata import EntryPoint, entry_points
from typing import TypeVar

from sitegen.findings.problems import SitegenError, WrongUse

CHECKS = "sitegen.checks"
PAGES = "sitegen.pages"
LAYOUTS = "sitegen.layouts"
GROUPS = (CHECKS, PAGES, LAYOUTS)
_NAME = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_TEXT_LIMIT = 200

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Plugin:
    """One entry of a package, with what it loads."""

    group: str
    name: str
    package: str
    version: str
    target: object = field(repr=False, default=None)

    def __str__(self) -> str:
        return f"{self.group}: {self.name} of {self.package} {self.version}"

    def fault(self, what: str) -> WrongUse:
        """Return the error that says what is wrong with it."""
        return WrongUse(f"the plug-in {self} {what}; correct it, or uninstall {self.package}")

    def list_of(self, name: str, *, needed: bool = True) -> Sequence[object]:
        """Return a list of its target by name; an empty one where it has none and needs none."""
        part = getattr(self.target, name, None if needed else ())
        if not isinstance(part, list | tuple):
            raise self.fault(f"has no list {name}")
        return part

    def call(self, make: Callable[..., T], *args: object) -> T:
        """Return what code of the plug-in returns; raises WrongUse with its error where it fails."""
        try:
            return make(*args)
        except SitegenError:
            raise
        except Exception as error:
            raise self.fault(f"fails ({_told(error)})") from error


@cache
def plugins(*groups: str) -> tuple[Plugin, ...]:
    """Return the plug-ins of some groups, of all where none is named, in order of group and name.

    Raises WrongUse where one can't be loaded, or has no name of its own.
    """
    return tuple(_loaded(*declared) for group in groups or GROUPS for declared in _declared(group))


def _declared(group: str) -> Iterator[tuple[Plugin, EntryPoint]]:
    """Yield the entries of a group, sorted, each with its package."""
    entries = [(_plugin(group, entry), entry) for entry in entry_points(group=group)]
    taken: dict[str, Plugin] = {}
    for plugin, entry in sorted(entries, key=lambda pair: (pair[0].name, pair[0].package)):
        if not _NAME.fullmatch(plugin.name):
            raise plugin.fault("has a name that is not lower-case words joined by hyphens")
        if plugin.name in taken:
            raise plugin.fault(f"has the name of another one, of {taken[plugin.name].package}")
        taken[plugin.name] = plugin
        yield plugin, entry


def _plugin(group: str, entry: EntryPoint) -> Plugin:
    about = entry.dist.metadata if entry.dist else None
    package, version = (about["Name"] or "", about["Version"] or "") if about else ("", "")
    plugin = Plugin(group, entry.name, package or "a package without a name", version)
    if not package or not version:
        raise plugin.fault("belongs to a package without a name or a version")
    return plugin


def _loaded(plugin: Plugin, entry: EntryPoint) -> Plugin:
    try:
        target = entry.load()
    except (Exception, SystemExit) as error:
        raise plugin.fault(f"cannot be loaded ({_told(error)})") from error
    return Plugin(plugin.group, plugin.name, plugin.package, plugin.version, target)


def _told(error: BaseException) -> str:
    """Say an error in one line."""
    text = " ".join(str(error).split())
    return f"{type(error).__name__}: {text[:_TEXT_LIMIT]}" if text else type(error).__name__
