"""Which layers of a file are read, and the one coordinate system that they share."""

from __future__ import annotations

import json
from collections.abc import Sequence

from sitegen.project.place.drawn import Unusable


def chosen_layers(there: Sequence[str], wanted: Sequence[str], file: str) -> Sequence[str]:
    """Return the layers to read: those that are declared, or the only one. Raises Unusable where that is unclear.

    >>> chosen_layers(["plan"], [], "locations/features.gpkg")
    ['plan']
    """
    if not there:
        raise Unusable("no layer of features", "at least one", "export the features again")
    missing = [name for name in wanted if name not in there]
    known = listed(there)
    if missing:
        raise Unusable(f"no layer {missing[0][:60]!r}", f"one of {known}", "correct layers under [features]")
    if len(there) > 1 and not wanted:
        do = f"write under [features] in project.toml which are to be read: layers = {known}"
        raise Unusable(f"{len(there)} layers in {file}", "a list of the layers to read", do)
    return list(wanted or there)


def listed(names: Sequence[str]) -> str:
    """Return names as TOML writes a list of them.

    >>> listed(["plan", "wells"])
    '["plan", "wells"]'
    """
    more = ", …" if len(names) > 20 else ""
    return f"[{', '.join(quoted(name) for name in names[:20])}{more}]"


def quoted(text: str) -> str:
    r"""Return a text as TOML writes it.

    >>> print(quoted('14" main'))
    "14\" main"
    """
    return json.dumps(text[:60], ensure_ascii=False)


def one_system(systems: Sequence[tuple[str, str]]) -> tuple[str, str]:
    """Return the system of all layers, with its name. Raises Unusable where they differ."""
    if len(set(systems)) > 1:
        names = " and ".join(sorted({name for _, name in systems})[:3])
        raise Unusable(f"layers in {names}", "all layers in one coordinate system", "export them in one")
    return systems[0]
