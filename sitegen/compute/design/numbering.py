"""Names that are new: ids of points that go on after those in use, and labels beside them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import count

from sitegen.project.read.textsafe import alike

_LEAST_DIGITS = 2


def next_ids(prefix: str, used: Iterable[str], wanted: int) -> tuple[str, ...]:
    """Return ids that go on after those in use, all with as many digits as the last of them needs.

    None is in use, and none differs from one in use by case, leading zeros or signs alone.

    >>> next_ids("SG-", ["SG-01", "sg-7", "OA-12"], 2)
    ('SG-08', 'SG-09')
    >>> next_ids("SG-", ["SG-099"], 2)
    ('SG-100', 'SG-101')
    """
    names = list(used)
    of_prefix = re.compile(re.escape(alike(prefix)) + r"(\d+)")
    taken = {alike(name) for name in names}
    numbers = [int(match[1]) for name in taken if (match := of_prefix.fullmatch(name))]
    digits = [len(match[0]) for name in names if _of(prefix, name) and (match := re.search(r"\d+$", name))]
    free = _free(prefix, taken, max(numbers, default=0) + 1)
    chosen = [next(free) for _ in range(wanted)]
    width = max([_LEAST_DIGITS, *digits, len(str(chosen[-1]) if chosen else "")])
    return tuple(f"{prefix}{number:0{width}d}" for number in chosen)


def _of(prefix: str, name: str) -> bool:
    return name.casefold().startswith(prefix.casefold()) and name[len(prefix) :].isdecimal()


def _free(prefix: str, taken: set[str], first: int) -> Iterator[int]:
    """Yield the numbers from ``first`` on whose id is like none in use, however many zeros it has."""
    for number in count(first):
        if alike(f"{prefix}{number}") not in taken:
            yield number


class Labels:
    """Hands out labels that are neither in use nor like one that is.

    >>> labels = Labels(["TB-1", "SG-05-D"])
    >>> labels.take("SG-05-D"), labels.take("SG-05-D"), [labels.take(one) for one in labels.numbered("TB-", 2)]
    ('SG-05-D2', 'SG-05-D3', ['TB-1-2', 'TB-2'])
    """

    def __init__(self, used: Iterable[str]) -> None:
        self._taken = {alike(name) for name in used}

    def take(self, wanted: str) -> str:
        """Return a label, with the next number behind it where it is taken, and keep it from then on."""
        between = "-" if wanted[-1:].isdecimal() else ""
        tries = (wanted if again == 1 else f"{wanted}{between}{again}" for again in count(1))
        label = next(name for name in tries if alike(name) not in self._taken)
        self._taken.add(alike(label))
        return label

    @staticmethod
    def numbered(prefix: str, wanted: int) -> tuple[str, ...]:
        """Return labels with as many digits as the last needs.

        >>> Labels.numbered("TB-", 2), Labels.numbered("TB-", 10)[0]
        (('TB-1', 'TB-2'), 'TB-01')
        """
        width = len(str(wanted))
        return tuple(f"{prefix}{number:0{width}d}" for number in range(1, wanted + 1))
