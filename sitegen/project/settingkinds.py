"""The kinds of values in ``project.toml``: texts, numbers, days, paths and codes, each with its bounds.

A value that is refused raises ValueError with what is expected, in words that follow "expected".
"""

from __future__ import annotations

import re
from datetime import date
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator
from pydantic_core import PydanticCustomError

from sitegen.project import limits
from sitegen.project.dateforms import date_form
from sitegen.project.limits import Bound, Range
from sitegen.project.schema import THEME_FOLDER
from sitegen.project.zones import zone
from sitegen.units import LENGTHS
from sitegen.voice import worded

DATE_FORM = "a date as 2025-12-31, without quotes"
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ufffe\uffff]")
_SYSTEM = re.compile(r"EPSG:[1-9]\d{3,5}", re.ASCII)
_LIKE_A_SYSTEM = re.compile(r"(?:EPSG\W{0,3}|^\W*)([1-9]\d{3,5})(?!\d)", re.ASCII | re.IGNORECASE)
_SYSTEM_FORM = "a code such as EPSG:32614, without blanks, of a two-dimensional system"
_OF_ONE_LINE = (limits.ID, limits.NAME)
_NOT_OF_TABLES = ("punycode", "idna", "undefined")
"""What Python counts among encodings, and no file of text is in; reading a table so takes forever."""


def _text(longest: Bound) -> AfterValidator:
    """Return the rule of a text: no longer than it may be, and without signs that steer a printer."""

    def fits(text: str) -> str:
        if len(text) > longest.value:
            raise ValueError(f"at most {longest.text} ({longest.reason})")
        if _CONTROL.search(text):
            raise ValueError("text without control characters")
        if longest in _OF_ONE_LINE and len(text.splitlines()) > 1:
            raise ValueError("text of one line")
        return text

    return AfterValidator(fits)


def within(values: Range) -> AfterValidator:
    """Return the rule of a number: it lies in its range, so that NaN is refused."""

    def fits(number: float) -> float:
        if not values.low <= number <= values.high:
            raise ValueError(f"{values.text} ({worded(values.reason)})")
        return number

    return AfterValidator(fits)


def _path(path: str) -> str:
    if any(len(part.encode()) > limits.PATH_PART.value for part in path.split("/")):
        raise ValueError(f"parts of at most {limits.PATH_PART.text} ({limits.PATH_PART.reason})")
    return path


def _length_unit(unit: str) -> str:
    if unit not in LENGTHS:
        raise ValueError(f"the unit of a length, one of {', '.join(LENGTHS)}")
    return unit


def _plain_date(value: object) -> object:
    try:
        return date.fromisoformat(value) if isinstance(value, str) else value
    except ValueError:
        raise ValueError(DATE_FORM) from None


def _year(day: date) -> date:
    if day.year not in limits.DAY_YEARS:
        raise ValueError(f"a day in the years {limits.DAY_YEARS[0]} to {limits.DAY_YEARS[-1]}, as a zip can date files")
    return day


def _known_zone(name: str) -> str:
    if zone(name) is None:
        raise ValueError("the name of an IANA time zone, such as America/Chicago")
    return name


def _system(code: object) -> object:
    """Refuse each form of a coordinate system's name but one, so that all that is written names it alike."""
    if isinstance(code, str) and not _SYSTEM.fullmatch(code):
        meant = _LIKE_A_SYSTEM.search(code[: limits.ID.value])
        write = {"do": f"write EPSG:{meant[1]} if that is intended"} if meant else {}
        raise PydanticCustomError("system", _SYSTEM_FORM, write)
    return code


def _system_or_none(code: object) -> object:
    return _system(code) if code else code


def _theme_file(pattern: str, expected: str) -> AfterValidator:
    """Return the rule of a setting that names a file of the theme."""
    return _file_in(f"{THEME_FOLDER}{pattern}", expected)


def _file_in(pattern: str, expected: str) -> AfterValidator:
    """Return the rule of a setting that names a file by its whole path."""

    def named(path: str) -> str:
        if path and not re.fullmatch(pattern, path):
            raise ValueError(expected)
        return path

    return AfterValidator(named)


def _of_text(encoding: str) -> str:
    if re.sub(r"\W", "", encoding.lower()) in _NOT_OF_TABLES:
        raise ValueError("an encoding of text, such as utf-8 or cp1252")
    return encoding


Id = Annotated[str, _text(limits.ID)]
Name = Annotated[str, _text(limits.NAME)]
Sentence = Annotated[str, _text(limits.SENTENCE)]
Text = Annotated[str, _text(limits.TEXT)]
FilePath = Annotated[str, _text(limits.PATH), AfterValidator(_path)]
Count = Annotated[int, within(limits.COUNT)]
Days = Annotated[float, within(limits.DAYS)]
LengthUnit = Annotated[str, AfterValidator(_length_unit)]
Day = Annotated[date, BeforeValidator(_plain_date), AfterValidator(_year)]
Zone = Annotated[str, AfterValidator(_known_zone)]
System = Annotated[str, BeforeValidator(_system)]
SystemOrNone = Annotated[str, BeforeValidator(_system_or_none)]
Encoding = Annotated[str, _text(limits.ID), AfterValidator(_of_text)]
DateForm = Annotated[str, _text(limits.ID), AfterValidator(lambda form: date_form(form) if form else form)]
Logo = Annotated[
    FilePath,
    _file_in(
        r"(theme|records)/[^/\\]+\.(png|jpe?g|webp)",
        "a PNG, JPEG or WebP picture in theme/ or records/, such as theme/logo.png",
    ),
]
Stylesheet = Annotated[FilePath, _theme_file(r"[^/\\]+\.css", "a stylesheet in theme/, such as theme/look.css")]
ThemePage = Annotated[
    FilePath,
    _theme_file(
        r"[a-z0-9][a-z0-9_-]{0,59}\.md",
        "a Markdown file in theme/ whose name is of lower-case letters, digits and hyphens, such as theme/about-us.md",
    ),
]
