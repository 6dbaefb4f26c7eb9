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

_KINDS = "kinds of records and their reads"
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


def read_so_far() -> frozenset[str]:
    """Return what the innermost record of reads holds by now, nothing where none is open."""
    return frozenset(_OPEN.get() or ())


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
            kinds = kept.setdefault(_KINDS, {})
            for kind in kinds_in(value):
                kinds[kind] = kinds.get(kind, frozenset()) | seen
        value, reads = kept[self._key]
        note(reads)
        return value


def kinds_in(value: object) -> Iterator[type]:
    """Yield the types of the records that a value is or holds, as its first ones show.

    >>> list(kinds_in({"a": [1, 2]})), list(kinds_in(()))
    ([<class 'int'>], [])
    """
    if isinstance(value, Mapping):
        value = list(value.values())[:1]
    if isinstance(value, list | set | frozenset) or type(value) is tuple:
        for inner in list(value)[:1]:
            yield from kinds_in(inner)
    elif value is not None:
        yield type(value)


def reads_behind(kind: type, *owners: object) -> frozenset[str] | None:
    """Return what records of a type were computed from by any of the owners of :class:`computed`; None if by none."""
    known = [kinds[kind] for owner in owners if kind in (kinds := owner.__dict__.get(_KINDS, {}))]
    return frozenset().union(*known) if known else None


class ComputedByName(Mapping[str, T]):
    """A mapping whose values are computed when first asked for, each kept with what it was computed from.

    >>> counts = ComputedByName(["a", "bb"], len)
    >>> dict(counts)
    {'a': 1, 'bb': 2}
    """

    def __init__(self, names: Iterable[str], make: Callable[[str], T]) -> None:
        self._names, self._make = dict.fromkeys(names), make
        self._kept: dict[str, tuple[T, frozenset[str]]] = {}

    def __getitem__(self, name: str) -> T:
        if name not in self._kept:
            if name not in self._names:
                raise KeyError(name)
            with reading() as seen:
                value = self._make(name)
            self._kept[name] = (value, frozenset(seen))
        value, reads = self._kept[name]
        note(reads)
        return value

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)


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
