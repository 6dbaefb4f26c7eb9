"""How large files are, in words."""

from __future__ import annotations

_UNITS = ("bytes", "kB", "MB", "GB", "TB")


def size_text(size: int) -> str:
    """Write a size in decimal units with three figures.

    >>> size_text(999), size_text(16_942_376), size_text(123_456_789)
    ('999 bytes', '16.9 MB', '123 MB')
    """
    value, unit = float(size), 0
    while value >= 999.5 and unit < len(_UNITS) - 1:
        value, unit = value / 1000, unit + 1
    return f"{value:.{0 if unit == 0 or value >= 99.95 else 1}f} {_UNITS[unit]}"
