"""Declared forms of dates and times."""

from __future__ import annotations

import random
from datetime import datetime, timedelta

import pytest
from pydantic import TypeAdapter, ValidationError

from sitegen.project.dateforms import date_form
from sitegen.project.read.forms import as_iso, forms_of
from sitegen.project.settingkinds import DateForm

STANDARD = {
    "year-month-day hour:minute": "%Y-%m-%d %H:%M",
    "month/day/year hour12:minute ampm": "%m/%d/%Y %I:%M %p",
    "month/day/year hour:minute": "%m/%d/%Y %H:%M",
    "day.month.year hour:minute": "%d.%m.%Y %H:%M",
    "day monthname year hour:minute": "%d %b %Y %H:%M",
    "monthname day, year hour12:minute ampm": "%B %d, %Y %I:%M %p",
    "month/day/year2 hour:minute": "%m/%d/%y %H:%M",
    "yearmonthdayThourminute": "%Y%m%dT%H%M",
    "day-month-year hour:minute:second": "%d-%m-%Y %H:%M:%S",
}
FIRST = datetime.fromisoformat("1970-01-01")
SPAN_S = 97 * 365 * 86400


def standard(text: str, pattern: str) -> datetime:
    """Read a text as the standard library does."""
    return datetime.strptime(text, pattern)  # noqa: DTZ007


@pytest.mark.parametrize("form", STANDARD)
def test_a_time_is_read_as_the_standard_library_reads_it(form: str) -> None:
    """What strftime writes is read back, with and without the zeros that people leave out."""
    made = random.Random(form)  # noqa: S311 - no secret
    pattern = STANDARD[form]
    for _ in range(400):
        moment = FIRST + timedelta(seconds=made.randrange(SPAN_S))
        text = moment.strftime(pattern)
        expected = standard(text, pattern).isoformat(timespec="seconds" if "second" in form else "minutes")
        assert as_iso(text, form) == expected
        if "name" not in form and not form.startswith("year"):
            assert as_iso(text.lstrip("0"), form) == expected


@pytest.mark.parametrize("form", [form for form, pattern in STANDARD.items() if "%B" not in pattern])
def test_what_the_standard_library_refuses_is_no_time(form: str) -> None:
    """A time with one figure or sign changed is read exactly where strptime reads it, and as the same."""
    made = random.Random(form)  # noqa: S311 - no secret
    pattern = STANDARD[form]
    refused = 0
    for _ in range(2000):
        moment = FIRST + timedelta(seconds=made.randrange(SPAN_S))
        text = list(moment.strftime(pattern))
        text[made.randrange(len(text))] = made.choice("0123456789/-:. ")
        slip = "".join(text).strip()
        try:
            expected = standard(slip, pattern)
        except ValueError:
            refused += 1
            read = as_iso(slip, form)
            assert read is None or _another_spelling(slip, form), slip
            continue
        read = as_iso(slip, form)
        if read is None:
            assert _looser_there(slip), slip
        else:
            assert datetime.fromisoformat(read) == expected, slip
    assert refused > 100


def _another_spelling(text: str, form: str) -> bool:
    """Tell whether a text is a spelling that strptime lacks: 2:05PM without its blank, Nov. with a full stop."""
    return ("ampm" in form and text[-3] != " ") or ("monthname" in form and "." in text)


def _looser_there(text: str) -> bool:
    """Tell whether strptime reads a text that is none of the form: minutes of one figure, a date of a figure less."""
    return any(not piece.isdigit() or len(piece) != 2 for piece in text.replace(":", " ").split()) or "  " in text


@pytest.mark.parametrize(
    ("text", "form", "iso"),
    [
        ("11/3/2025 12:00 AM", "month/day/year hour12:minute ampm", "2025-11-03T00:00"),
        ("11/3/2025 12:00 PM", "month/day/year hour12:minute ampm", "2025-11-03T12:00"),
        ("11/3/2025 2:05 p.m.", "month/day/year hour12:minute ampm", "2025-11-03T14:05"),
        ("11/3/2025 2:05\u202fPM", "month/day/year hour12:minute ampm", "2025-11-03T14:05"),
        ("11/3/2025 14:05 PM", "month/day/year hour12:minute ampm", None),
        ("11/3/2025 0:05 AM", "month/day/year hour12:minute ampm", None),
        ("11/3/2025 2:05", "month/day/year hour12:minute ampm", None),
        ("11/3/2025", "month/day/year hour12:minute ampm", "2025-11-03"),
        ("3 Sept 2025", "day monthname year", "2025-09-03"),
        ("3 Sep. 2025", "day monthname year", "2025-09-03"),
        ("3 Septem 2025", "day monthname year", None),
        ("11/3/25", "month/day/year", None),
        ("11/3/2025", "month/day/year2", None),
        ("11/3/25", "month/day/year2", "2025-11-03"),
        ("2025-11-03", "month/day/year", None),
        ("2024-02-29", "year-month-day", "2024-02-29"),
        ("2025-02-29", "year-month-day", None),
        ("\u0661\u0661/3/2025", "month/day/year", None),
        ("2025113", "yearmonthday", None),
        ("11/3/2025 24:00", "month/day/year hour:minute", None),
        ("", "month/day/year", None),
    ],
)
def test_a_text_is_read_by_its_form_alone(text: str, form: str, iso: str | None) -> None:
    """Noon and midnight, short and long names, years of two figures, and what no form makes a date of."""
    assert as_iso(text, form) == iso


@pytest.mark.parametrize(
    "form",
    [
        "dd.mm.yyyy",
        "month/day",
        "month/day/day",
        "month/month/year",
        "year/year2/month day",
        "hour:minute day/month/year",
        "month/day/year hour12:minute",
        "month/day/year hour:minute ampm",
        "month/day/year minute",
        "month/day/year ",
        "month|day|year",
        "month/day/year" + " hour:minute" * 40,
        "month(.*)day/year",
    ],
)
def test_a_form_that_says_too_little_is_refused(form: str) -> None:
    """Each lacks a part, has one twice, or uses a sign that no date has."""
    with pytest.raises(ValueError, match="a form such as"):
        date_form(form)
    with pytest.raises(ValidationError):
        TypeAdapter(DateForm).validate_python(form)


def test_a_setting_holds_a_form_or_nothing() -> None:
    """Nothing is declared where the setting is blank."""
    assert TypeAdapter(DateForm).validate_python("") == ""
    assert TypeAdapter(DateForm).validate_python("day.month.year") == "day.month.year"


def test_one_form_is_proposed_where_one_alone_fits() -> None:
    """A day above 12 in any row tells which number is the month; without one both ways are named."""
    assert forms_of(["11/3/2025", "11/4/2025"]) == ("month/day/year", "day/month/year")
    assert forms_of(["11/3/2025", "11/14/2025"]) == ("month/day/year",)
    assert forms_of(["3.11.2025 8:05", "14.11.2025 8:05"]) == ("day.month.year hour:minute",)
    assert forms_of(["2025-11-03 14:05"]) == ("year-month-day hour:minute",)
    assert forms_of(["11/14/2025", "14/11/2025"]) == ()
    assert forms_of(["soon"]) == forms_of([]) == ()
