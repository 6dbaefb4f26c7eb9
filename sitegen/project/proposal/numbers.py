"""Which signs part decimals and thousands in a laboratory's numbers, told by those with one reading alone."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

Place = tuple[str, str]
"""A number as text, and the cell that holds it."""


@dataclass(slots=True)
class Signs:
    """What numbers tell of their signs: by sign, the first number that tells it, and where it stands.

    ``open`` are numbers such as 1,234 that can be read in two ways.
    """

    decimal: dict[str, Place] = field(default_factory=dict)
    thousands: dict[str, Place] = field(default_factory=dict)
    open: dict[str, Place] = field(default_factory=dict)

    def settle(self) -> tuple[str, str] | None:
        """Return the signs for decimals and thousands, None where they can't be told.

        >>> signs_of([("0,5", "C2"), ("1.234", "C3")]).settle(), signs_of([("1,234", "C2")]).settle()
        ((',', '.'), None)
        """
        if len(self.decimal) > 1 or len(self.thousands) > 1:
            return None
        decimal = next(iter(self.decimal), "")
        thousands = next(iter(self.thousands), "")
        if not decimal and thousands in (",", "."):
            decimal = "." if thousands == "," else ","
        if not decimal and self.open:
            return None
        other = {sign for sign in self.open if sign != decimal}
        if (decimal == thousands and decimal) or len(other | ({thousands} - {""})) > 1:
            return None
        return decimal or ".", thousands or next(iter(other), "")


def signs_of(numbers: Iterable[Place]) -> Signs:
    """Gather what numbers tell of their signs."""
    signs = Signs()
    for text, cell in numbers:
        _look(signs, text.lstrip("+-").partition("e")[0].partition("E")[0].strip(), cell)
    return signs


def _look(signs: Signs, text: str, cell: str) -> None:
    for sign in (" ", "'"):
        if sign in text:
            signs.thousands.setdefault(sign, (text, cell))
            text = text.replace(sign, "")
    points, commas = text.count("."), text.count(",")
    if points and commas:
        last = "." if text.rfind(".") > text.rfind(",") else ","
        signs.decimal.setdefault(last, (text, cell))
        signs.thousands.setdefault("," if last == "." else ".", (text, cell))
    elif points or commas:
        _look_at_one(signs, text, "." if points else ",", cell)


def _look_at_one(signs: Signs, text: str, sign: str, cell: str) -> None:
    """Look at a number with one kind of sign: three digits behind it may be a thousand."""
    groups = text.split(sign)
    if len(groups) > 2:
        signs.thousands.setdefault(sign, (text, cell))
    elif len(groups[1]) == 3 and 0 < len(groups[0]) < 4 and not groups[0].startswith("0"):
        signs.open.setdefault(sign, (text, cell))
    else:
        signs.decimal.setdefault(sign, (text, cell))
