"""Blocks and pages that carry what was read while they were made."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from enum import Enum
from functools import wraps
from typing import Any, ParamSpec, TypeVar, cast

from sitegen.project.reads import note, read_so_far, reading
from sitegen.report.record.pages import Chapter, Figure, Page, Section, Table
from sitegen.report.write.context import Context

P = ParamSpec("P")
R = TypeVar("R")
Whole = TypeVar("Whole", Page, Chapter)

_CARRIERS = (Table, Figure, Section)
_NAMES = (str, int, float, bool, type(None), Enum, Context)


def traced(make: Callable[P, R]) -> Callable[P, R]:
    """Have the blocks that a function returns carry what was read while they were made.

    A function that is handed more than names and numbers may have been handed what its caller
    read: that counts as well. A block that carries its reads already keeps them. The caller's own
    record of reads is told of all of them.
    """

    @wraps(make)
    def wrapper(*args: P.args, **kwargs: P.kwargs) -> R:
        before = read_so_far() if _handed(args) or _handed(kwargs.values()) else frozenset()
        with reading() as seen:
            result = make(*args, **kwargs)
        reads = before | seen
        result = cast("R", _carrying(result, reads))
        note(reads | _carried(result))
        return result

    return wrapper


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


def _handed(args: Iterable[object]) -> bool:
    """Say whether any argument is more than a name, a number or the context."""
    return any(not isinstance(arg, _NAMES) for arg in args)


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
