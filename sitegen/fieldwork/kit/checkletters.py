"""Two check characters behind an id: one sign mistyped, or two neighbours exchanged, and they no longer fit.

ISO/IEC 7064:2003, the pure system MOD 1271-36. Its alphabet has figures and capital letters alone, so an id is
*folded* first: every sign but ``0-9``, ``A-Z`` and ``a-z`` is left out, then small letters become capitals. What is
left out stays in the text and is not checked: ``SG-07``, ``SG07`` and ``sg 07`` have the same check characters.
"""

from __future__ import annotations

import re

_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_MODULUS, _RADIX = 1271, 36
_OUTSIDE = re.compile("[^0-9A-Za-z]")
_SIGN = "*"
"""Between an id and its check characters; QR codes have it in their short alphabet (ISO/IEC 18004, alphanumeric)."""


def folded(text: str) -> str:
    """Return what of an id is checked.

    >>> folded("SG-07"), folded("sg 07/b"), folded("Nº 3")
    ('SG07', 'SG07B', 'N3')
    """
    return _OUTSIDE.sub("", text).upper()


def check_letters(text: str) -> str:
    """Return the two check characters of an id, as it is folded.

    The characters, check characters included, are the digits of a number of base 36 that leaves 1 on division by
    1271 (ISO/IEC 7064:2003, clauses 6 and 7). The standard's own example:

    >>> check_letters("ISO79")
    '3W'
    >>> check_letters("SG-07") == check_letters("sg07")
    True
    """
    rest = 0
    for sign in folded(text):
        rest = (rest * _RADIX + _ALPHABET.index(sign)) % _MODULUS
    high, low = divmod((1 - rest * _RADIX**2) % _MODULUS, _RADIX)
    return _ALPHABET[high] + _ALPHABET[low]


def qr_text(identity: str) -> str:
    """Return what a QR code of an id says: the id as it is, a star, and its check characters.

    >>> qr_text("ISO79")
    'ISO79*3W'
    """
    return f"{identity}{_SIGN}{check_letters(identity)}"


def read_qr_text(text: str) -> str | None:
    """Return the id of a QR code's text; None where it is of another kind, or its check characters don't fit.

    >>> read_qr_text("ISO79*3W"), read_qr_text("ISO97*3W"), read_qr_text("ISO79")
    ('ISO79', None, None)
    """
    identity, sign, letters = text.rpartition(_SIGN)
    return identity if sign and folded(identity) and letters == check_letters(identity) else None
