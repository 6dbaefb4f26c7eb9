"""One declared rule for showing numbers, and nothing else.

What is computed, and what a headline or a drawing says, is shown to 2 figures, to 3 from
1,000, half up on the shortest decimal of the number. What the laboratory stated
stands in tables as it was reported (:mod:`reported`).
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache

from sitegen.voice import thousands

RULE = "two significant figures (three from 1,000, halves up)"


def rounded_text(value: float) -> str:
    """Show a number to 2 figures, 3 from 1,000, with commas between thousands.

    >>> [rounded_text(value) for value in (12345, 999.6, 0.0347, 25, 8.04, 9.96)]
    ['12,300', '1,000', '0.035', '25', '8.0', '10']
    >>> rounded_text(2.25), rounded_text(2.35), rounded_text(12.5), rounded_text(1005.0)
    ('2.3', '2.4', '13', '1,010')
    """
    return thousands(_rounded_text(value))


@lru_cache(maxsize=1 << 16)
def _rounded_text(value: float) -> str:
    if value == 0:
        return "0"
    number = Decimal(repr(value))
    figures = 3 if abs(number) >= 1000 else 2
    place = number.adjusted() - figures + 1
    rounded = number.quantize(Decimal(1).scaleb(place), rounding=ROUND_HALF_UP)
    if rounded.adjusted() > number.adjusted():
        place += 1  # 9.96 became 10.0, a figure too many
    if rounded.adjusted() >= 3:
        return f"{int(rounded):,}"
    return f"{rounded:,.{max(0, -place)}f}"


def as_reported(value: float) -> str:
    """Show a limit as reported, without needless zeros.

    >>> as_reported(10.0), as_reported(2.5), as_reported(12500.0)
    ('10', '2.5', '12,500')
    """
    return thousands(all_digits(value))


@lru_cache(maxsize=1 << 12)
def all_digits(value: float) -> str:
    """Write a number with the digits that it has and commas between thousands, whatever the language.

    >>> all_digits(12500.0), all_digits(1e-7)
    ('12,500', '0.0000001')
    """
    return format(Decimal(repr(value)).normalize(), ",f")


def percent(part: int, whole: int, beside: float | None = None) -> str:
    """Show a share as a whole percentage, "–" where there is nothing to share.

    ``beside`` is a limit in % that the share is judged by: within 1 of it one decimal is shown,
    and as many more as keep a share apart from a limit that it is not.

    >>> percent(2, 3), percent(0, 0), percent(43, 48, 90), percent(45, 50, 90), percent(30, 48, 90)
    ('67 %', '–', '89.6 %', '90.0 %', '63 %')
    """
    return _percent(Decimal(100 * part) / Decimal(whole), beside) if whole else "–"


def _percent(share: Decimal, beside: float | None) -> str:
    limit = None if beside is None else Decimal(repr(beside))
    if limit is None or abs(share - limit) > 1:
        return f"{share.quantize(Decimal(1), rounding=ROUND_HALF_UP)} %"
    rounded = (share.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP) for places in range(1, 9))
    return f"{next((one for one in rounded if one != limit or share == limit), share)} %"


def percent_of(share: float) -> str:
    """Show a stated share from 0 to 1 as a percentage, without needless zeros.

    >>> percent_of(0.1), percent_of(0.125)
    ('10 %', '12.5 %')
    """
    return f"{as_reported(float(Decimal(repr(share)) * 100))} %"


def whole_percent(share: float) -> str:
    """Show a share from 0 to 1 as a whole percentage, without the sign.

    >>> whole_percent(0.6688), whole_percent(0.145), whole_percent(0.0)
    ('67', '15', '0')
    """
    return str((100 * Decimal(repr(share))).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def percent_beside(value: float, limit: float) -> str:
    """Show a percentage beside the limit that it is judged by, as :func:`percent` does.

    >>> percent_beside(28.6, 30), percent_beside(29.6, 30), percent_beside(30.04, 30), percent_beside(30.0, 30)
    ('29 %', '29.6 %', '30.04 %', '30.0 %')
    """
    return _percent(Decimal(repr(value)), limit)
