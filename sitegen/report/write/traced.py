"""Blocks and pages that carry what was read while they were made."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from enum import Enum
from functools import wraps
from typing import Any, ParamSpec, TypeVar, cast

from sitegen.figures.ground import Ground
from sitegen.project.reads import kinds_in, note, read_so_far, reading, reads_behind
from sitegen.project.tables import NAME_OF
from sitegen.report.record.pages import Chapter, Figure, Page, Section, Table
from sitegen.report.write.context import Context

P = ParamSpec("P")
R = TypeVar("R")
Whole = TypeVar("Whole", Page, Chapter)

_CARRIERS = (Table, Figure, Section, Page, Chapter)
_NAMES = (str, int, float, bool, type(None), Enum, Context, Ground)


def traced(make: Callable[P, R]) -> Callable[P, R]:
    """Have the blocks or the page that a function returns carry what was read while they were made.

    What it is handed counts too: a row for its table, a record that the context or its evaluation
    computed for what that was computed from, and anything else for all that its caller has read by
    then. A block that carries its reads already keeps them. The caller's own record of reads is
    told of all of them.
    """

    @wraps(make)
    def wrapper(*args: P.args, **kwargs: P.kwargs) -> R:
        before = _behind((*args, *kwargs.values()))
        with reading() as seen:
            result = make(*args, **kwargs)
        reads = before | seen
        result = cast("R", _carrying(result, reads))
        note(reads | _carried(result))
        return result

    return wrapper


def _behind(args: tuple[object, ...]) -> frozenset[str]:
    """Return what stands behind the arguments of a function."""
    owners = [owner for arg in args if isinstance(arg, Context) for owner in (arg, arg.evaluation)]
    reads: frozenset[str] = frozenset()
    for kind in {kind for arg in args for kind in kinds_in(arg)}:
        if not issubclass(kind, _NAMES):
            known = frozenset({NAME_OF[kind]}) if kind in NAME_OF else reads_behind(kind, *owners)
            reads |= read_so_far() if known is None else known
    return reads


def each_traced(wholes: Iterable[Whole], *, apart: bool = False) -> Iterator[Whole]:
    """Yield pages or chapters, each with what was read until it was made.

    Where they are made ``apart`` of each other, nothing read for one serves the next.
    """
    source = iter(wholes)
    so_far: frozenset[str] = frozenset()
    while True:
        with reading() as seen:
            whole = next(source, None)
        if whole is None:
            return
        so_far = frozenset(seen) if apart else so_far | seen
        yield replace(whole, reads=whole.reads or so_far)


def _carrying(block: Any, reads: frozenset[str]) -> Any:  # noqa: ANN401 - whatever the function returns
    if isinstance(block, tuple | list) and not hasattr(block, "_fields"):
        return type(block)(_carrying(inner, reads) for inner in block)
    if isinstance(block, _CARRIERS) and not block.reads:
        return replace(block, reads=reads)
    return block


def _carried(block: object) -> frozenset[str]:
    if isinstance(block, tuple | list) and not hasattr(block, "_fields"):
        return frozenset().union(*(_carried(inner) for inner in block))
    return block.reads if isinstance(block, _CARRIERS) else frozenset()
