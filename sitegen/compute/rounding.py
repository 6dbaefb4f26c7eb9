"""One declared rule for showing numbers, and nothing else.

Numbers are computed from values as reported and shown to 2 figures, to 3 from 1,000,
half to even on the decimal value. Reporting limits are shown as reported.
"""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal
from functools import lru_cache

RULE = "two figures, three from 1,000, half to even; reporting limits as reported"


@lru_cache(maxsize=1 << 16)
def shown(value: float) -> str:
    """Show a number to 2 figures, 3 from 1,000, with commas between thousands.

    >>> shown(12345), shown(999.6), shown(0.0347), shown(25), shown(8.04), shown(9.96)
    ('12,300', '1,000', '0.035', '25', '8.0', '10')
    """
    if value == 0:
        return "0"
    number = Decimal(repr(value))
    figures = 3 if abs(number) >= 1000 else 2
    place = number.adjusted() - figures + 1
    rounded = number.quantize(Decimal(1).scaleb(place), rounding=ROUND_HALF_EVEN)
    if rounded.adjusted() > number.adjusted():
        place += 1  # 9.96 became 10.0, a figure too many
    if rounded.adjusted() >= 3:
        return f"{int(rounded):,}"
    return f"{rounded:,.{max(0, -place)}f}"


@lru_cache(maxsize=1 << 12)
def as_reported(value: float) -> str:
    """Show a limit as reported, without needless zeros.

    >>> as_reported(10.0), as_reported(2.5), as_reported(12500.0)
    ('10', '2.5', '12,500')
    """
    return format(Decimal(repr(value)).normalize(), ",f")


def percent(part: int, whole: int) -> str:
    """Show a share as a whole percentage, "–" where there is nothing to share.

    >>> percent(2, 3), percent(0, 0)
    ('67 %', '–')
    """
    return f"{Decimal(100 * part / whole).quantize(Decimal(1), rounding=ROUND_HALF_EVEN)} %" if whole else "–"


def whole_percent(share: float) -> str:
    """Show a share from 0 to 1 as a whole percentage, without the sign.

    >>> whole_percent(0.6688), whole_percent(0.0)
    ('67', '0')
    """
    return str(Decimal(repr(100 * share)).quantize(Decimal(1), rounding=ROUND_HALF_EVEN))
