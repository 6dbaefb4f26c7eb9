"""What a number was computed from: the tables that were read while it was computed.

A survey notes each table that is asked of it. Whoever computes opens a record of reads with
:func:`reading`, and what it made can say from then on what it rests on. A value that is kept
(:class:`computed`) keeps its reads too, and notes them whenever it is asked for again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import update_wrapper
from typing import Generic, TypeVar, overload

T = TypeVar("T")

_OPEN: ContextVar[set[str] | None] = ContextVar("reads", default=None)


def note(names: Iterable[str]) -> None:
    """Note that tables were read, where anybody wants to know."""
    seen = _OPEN.get()
    if seen is not None:
        seen.update(names)


@contextmanager
def reading() -> Iterator[set[str]]:
    """Yield the set to which every table read inside is added; a record around it is not told.

    >>> with reading() as outer:
    ...     with reading() as inner:
    ...         note(["results"])
    ...     note(["weather"])
    >>> inner, outer
    ({'results'}, {'weather'})
    """
    seen: set[str] = set()
    token = _OPEN.set(seen)
    try:
        yield seen
    finally:
        _OPEN.reset(token)


class computed(Generic[T]):  # noqa: N801 - a decorator, as functools.cached_property
    """A property that is computed when it is first asked for, and kept with the tables that it was computed from.

    >>> class Survey:
    ...     @computed
    ...     def count(self):
    ...         note(["results"])
    ...         return 3
    >>> survey = Survey()
    >>> survey.count
    3
    >>> with reading() as seen:
    ...     survey.count
    3
    >>> seen
    {'results'}
    """

    def __init__(self, make: Callable[..., T]) -> None:
        self._make = make
        update_wrapper(self, make)  # type: ignore[arg-type]

    def __set_name__(self, owner: type, name: str) -> None:
        self._key = f"{name} and its reads"

    @overload
    def __get__(self, instance: None, owner: type) -> computed[T]: ...
    @overload
    def __get__(self, instance: object, owner: type) -> T: ...
    def __get__(self, instance: object | None, owner: type) -> T | computed[T]:
        """Return the value, and note what it was computed from."""
        if instance is None:
            return self
        kept = instance.__dict__
        if self._key not in kept:
            with reading() as seen:
                value = self._make(instance)
            kept[self._key] = (value, frozenset(seen))
        value, reads = kept[self._key]
        note(reads)
        return value


class Noted(Mapping[str, T]):
    """A mapping that notes which of its keys is asked for, after a prefix."""

    def __init__(self, inner: Mapping[str, T], prefix: str = "") -> None:
        self._inner, self._prefix = inner, prefix

    def __getitem__(self, key: str) -> T:
        note((self._prefix + key,))
        return self._inner[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._inner)

    def __len__(self) -> int:
        return len(self._inner)


class NotedTuple(tuple[T, ...]):  # noqa: SLOT001 - slots of a tuple hold nothing
    """A tuple that notes a name when its items are asked for.

    >>> with reading() as seen:
    ...     len(NotedTuple([1, 2], "features"))
    2
    >>> seen
    {'features'}
    """

    name: str

    def __new__(cls, items: Iterable[T], name: str) -> NotedTuple[T]:
        """Make the tuple."""
        own = super().__new__(cls, items)
        own.name = name
        return own

    def __iter__(self) -> Iterator[T]:
        note((self.name,))
        return super().__iter__()

    def __len__(self) -> int:
        note((self.name,))
        return super().__len__()
