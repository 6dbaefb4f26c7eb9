"""Read what a laboratory wrote in a result cell: number, limit, unit and qualifiers.

Numbers are read and converted as exact decimals, so that 0.012 µg is 12 ng and nothing else.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal

from sitegen.findings.problems import Severity
from sitegen.project.delivery.parts import MappingForm, UnitPart
from sitegen.project.read.cells import number as plain_number
from sitegen.project.read.cells import tidy
from sitegen.project.read.textsafe import plain
from sitegen.project.schema import QUALIFIERS
from sitegen.voice import worded

NONDETECT = ("U", "UJ")
MEASURED = (
    "result_text",
    "value",
    "unit",
    "rl",
    "mdl",
    "lab_qualifier",
    "detected",
    "calibration_top",
)
"""The texts that one reading needs, in the order in which :meth:`Reader.read` takes them."""

_NUMBER_FIRST = re.compile(r"(?P<number>[+-]?(?:\d[\d., ']*+|\.\d++)(?:[eE][+-]?\d{1,3})?)(?P<rest>[^\n]*+)", re.ASCII)
_BETWEEN = re.compile(r"[\s,;/]+")
_RANGE = re.compile(r"(?P<lower>[\d.]+)\s*(?:-|to)\s*(?P<upper>[\d.]+)\s*%?", re.ASCII)
_CLOSE = {"(": ")", "[": "]"}
YES, NO = ("yes", "y", "true"), ("no", "n", "false")


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a cell of a row, under our column name."""

    column: str
    code: str
    severity: Severity
    found: str
    expected: str
    do: str


@dataclass(frozen=True, slots=True)
class Reading:
    """One result as text in our units, and what is wrong with it.

    ``received`` is the number as the laboratory gave it, None for a non-detect.
    ``unknown`` lists words to be declared: (mapping table, word). ``absent`` is True where
    the mapping says that a blank cell means no result.
    """

    texts: Mapping[str, str]
    received: Decimal | None = None
    faults: tuple[Fault, ...] = ()
    unknown: tuple[tuple[str, str], ...] = ()
    absent: bool = False


class Reader:
    """Reads result cells as one mapping file says."""

    def __init__(self, form: MappingForm) -> None:
        self._form = form
        self._units = {_spelled(spelling): unit for spelling, unit in form.units.items()}
        self._qualifiers = {name: name for name in QUALIFIERS} | {
            plain(tidy(theirs)): ours for theirs, ours in form.qualifiers.items()
        }
        self._memo: dict[tuple[str, ...], Reading] = {}

    def read(self, texts: tuple[str, ...]) -> Reading:
        """Read one row's texts, given in the order of ``MEASURED``."""
        if texts not in self._memo:
            self._memo[texts] = _One(self._form, self, dict(zip(MEASURED, texts, strict=True))).reading()
        return self._memo[texts]

    def unit(self, spelling: str) -> UnitPart | None:
        """Return what a spelling of a unit leads to, None where it is not declared."""
        return self._units.get(_spelled(spelling))

    def number(self, text: str) -> Decimal | None:
        """Read a number written with the declared signs, or return None."""
        source = self._form.source
        text = plain(text).strip()
        if source.thousands and source.thousands in text:
            integer, point, fraction = text.partition(source.decimal)
            groups = integer.lstrip("+-").split(source.thousands)
            if not 0 < len(groups[0]) < 4 or any(len(group) != 3 for group in groups[1:]):
                return None
            text = integer.replace(source.thousands, "") + point + fraction
        if source.decimal != ".":
            text = text.replace(".", "?").replace(source.decimal, ".")
        return Decimal(text) if plain_number(text) is not None else None

    def split(self, text: str) -> tuple[Decimal | None, str]:
        """Split a number from the qualifier behind it, where the mapping allows that."""
        whole = self.number(text)
        if whole is not None or not self._form.source.joined_qualifiers:
            return whole, ""
        match = _NUMBER_FIRST.fullmatch(text.strip())
        if match is None:
            return None, ""
        rest = match["rest"].strip()
        return (self.number(match["number"]), rest) if self.qualifiers(rest) is not None else (None, "")

    def qualifiers(self, text: str) -> list[str] | None:
        """Return our qualifiers for the laboratory's, None where one is not known."""
        spelled = plain(tidy(text))
        if not spelled:
            return []
        words = [spelled] if spelled in self._qualifiers else _BETWEEN.split(spelled)
        if any(word not in self._qualifiers for word in words):
            return None
        ours = [part for word in words for part in self._qualifiers[word].split(";") if part]
        return list(dict.fromkeys(ours))


def _spelled(text: str) -> str:
    """Bring the two signs for micro to one, and dashes and blanks to plain ones."""
    return plain(tidy(text)).replace("\u00b5", "\u03bc")


def unbracketed(below: str, rest: str) -> str:
    """Return what stands behind the sign of a limit, without the bracket that closes one in the sign.

    >>> unbracketed("ND (", "5)"), unbracketed("<", "5")
    ('5', '5')
    """
    return rest.rstrip().removesuffix(_CLOSE[below[-1]]) if below[-1:] in _CLOSE else rest


class _One:
    """The reading of one row, step by step, gathering what is wrong on the way."""

    def __init__(self, form: MappingForm, reader: Reader, given: dict[str, str]) -> None:
        self.form = form
        self.reader = reader
        self.given = given
        self.holds = "result_text" if given["result_text"].strip() or not given["value"].strip() else "value"
        self.text = given[self.holds].strip()
        self.faults: list[Fault] = []
        self.unknown: list[tuple[str, str]] = []

    def reading(self) -> Reading:
        blank = not tidy(self.text) and self.text not in self.form.nondetect.tokens
        if blank and self.form.source.blank == "not_reported":
            return self._absent()
        amount, limit, joined = self._amount(blank=blank)
        words = self._words(joined)
        detected = self._detected(amount, words)
        if not detected and amount is not None:
            amount, limit = None, amount
        self._agrees(amount)
        texts = self._converted(amount, limit)
        texts |= {
            "result_text": self.text,
            "lab_qualifier": ";".join(words),
            "detected": "yes" if detected else "no",
        }
        return Reading(texts, amount, tuple(self.faults), tuple(self.unknown))

    def _absent(self) -> Reading:
        """Return no result; a mark of a non-detect beside the blank cell contradicts that."""
        ours = self.reader.qualifiers(self.given["lab_qualifier"]) or []
        mark = next((word for word in ours if word in NONDETECT), "") or tidy(self.given["detected"])
        if mark:
            do = 'ask the laboratory; where it is a non-detect write "" among the tokens under [nondetect]'
            self._fault(
                self.holds, "result-contradicts", f"a blank cell with {mark!r}", "a result, or no qualifier", do
            )
        return Reading({}, None, tuple(self.faults), absent=True)

    def _fault(self, column: str, code: str, found: str, expected: str, do: str) -> None:
        self.faults.append(Fault(column, code, Severity.STOP, found, expected, do))

    def _amount(self, *, blank: bool) -> tuple[Decimal | None, Decimal | None, str]:
        """Return (number, limit, qualifier behind it); both numbers None for a bare token."""
        if self.text in self.form.nondetect.tokens:
            return None, None, ""
        if blank:
            do = 'ask the laboratory, or write blank = "not_reported" under [source] if there is no result'
            self._fault(self.holds, "result-blank", "a blank cell", "a result", do)
            return None, None, ""
        prefixes = [prefix for prefix in self.form.nondetect.less_than_prefix if self.text.startswith(prefix)]
        below = max(prefixes, key=len, default="")
        number, joined = self.reader.split(unbracketed(below, self.text.removeprefix(below)))
        if number is None:
            expected = "a number, a limit after a prefix, or a declared token"
            do = (
                "declare it in {mapping}: tokens or less_than_prefix under [nondetect], thousands, "
                "decimal or joined_qualifiers under [source]; or ask the laboratory"
            )
            self._fault(self.holds, "number-unreadable", repr(self.text), expected, do)
        return (None, number, joined) if below else (number, None, joined)

    def _words(self, joined: str) -> list[str]:
        words: list[str] = []
        for text in (self.given["lab_qualifier"], joined):
            ours = self.reader.qualifiers(text)
            if ours is None:
                self.unknown.append(("qualifiers", tidy(text)))
            words += ours or []
        return list(dict.fromkeys(words))

    def _detected(self, amount: Decimal | None, words: list[str]) -> bool:
        """Settle whether the row is a detection; a row that says both is a fault."""
        says = tidy(self.given["detected"]).lower()
        if says and says not in (*YES, *NO):
            found = repr(self.given["detected"])
            self._fault("detected", "word-unknown", found, "yes or no", "ask the laboratory for its meaning")
        below = amount is None or any(word in NONDETECT for word in words)
        if says in YES and below and not self.faults:
            found = f"{self.text!r} {' '.join(words)}".strip() + ", stated as detected"
            do = "ask the laboratory which of the two is correct"
            self._fault("detected", "result-contradicts", found, "only one of the two", do)
        return not below and says not in NO

    def _agrees(self, amount: Decimal | None) -> None:
        """Compare the number in the text with the one in the column ``value``."""
        other = tidy(self.given["value"])
        if self.holds == "value" or not other or amount is None:
            return
        if self.reader.number(other) != amount:
            found = f"{self.text!r} with the value {other!r}"
            do = "ask the laboratory which of the two is correct"
            self._fault("value", "result-contradicts", found, "the same number in both", do)

    def _converted(self, amount: Decimal | None, limit: Decimal | None) -> dict[str, str]:
        """Return value, limits and unit as texts in our unit."""
        spelling = tidy(self.given["unit"])
        unit = self.reader.unit(spelling)
        if unit is None:
            self.unknown.append(("units", spelling or "a blank cell"))
            return {}
        limits = {name: self._limit(name) for name in ("rl", "mdl", "calibration_top")}
        if limit is not None and limits["rl"] is None:
            limits["rl"] = limit
        elif limit is not None and limit not in (limits["rl"], limits["mdl"]):
            found = worded("{text!r} with the limit {limit!r}", text=self.text, limit=self.given["rl"])
            do = worded("ask the laboratory which of the two is correct; the column is used")
            self.faults.append(Fault("rl", "limits-differ", Severity.FLAG, found, worded("one limit"), do))
        numbers = limits | {"value": amount}
        return {"unit": unit.unit} | {name: self._scaled(name, x, unit) for name, x in numbers.items()}

    def _limit(self, name: str) -> Decimal | None:
        text = tidy(self.given[name])
        number = self.reader.number(text) if text else None
        if text and number is None:
            do = "declare its separators as thousands and decimal under [source], or ask the laboratory"
            self._fault(name, "number-unreadable", repr(text), "a plain number", do)
        return number

    def _scaled(self, name: str, number: Decimal | None, unit: UnitPart) -> str:
        if number is None:
            return ""
        scaled = float(number * unit.factor)
        if not math.isfinite(scaled):
            self._fault(name, "number-unreadable", str(number), "a number within the usual range", "correct the factor")
            return ""
        return repr(scaled)


def qc_texts(reader: Reader, row: Mapping[str, str]) -> tuple[dict[str, str], list[Fault]]:
    """Read a QC row: value, unit and limits as text, in the laboratory's own unit.

    A percent sign behind the number gives the unit; limits may stand in one cell as in
    ``70-130``.
    """
    said = row.get("result_text", "").strip() or row.get("value", "").strip()
    unit = tidy(row.get("unit", "")) or ("%" if said.endswith("%") else "")
    number, _ = reader.split(said.removesuffix("%").strip())
    faults: list[Fault] = []
    if number is None:
        do = "ask the laboratory, or list the row's word as skip under [qc]"
        problem = ("number-unreadable", Severity.STOP, repr(said), "a number", do)
        faults.append(Fault("result_text", *problem))
    limits = dict(_qc_limits(reader, row, faults.append))
    return {"value": "" if number is None else str(number), "unit": unit, **limits}, faults


def _qc_limits(reader: Reader, row: Mapping[str, str], tell: Callable[[Fault], None]) -> Iterator[tuple[str, str]]:
    for name in ("lower", "upper"):
        text = plain(tidy(row.get(name, "")))
        both = _RANGE.fullmatch(text)
        number = reader.number(both[name] if both else text.removesuffix("%"))
        if text and number is None:
            do = "ask the laboratory for both limits"
            tell(Fault(name, "number-unreadable", Severity.STOP, repr(text), "a number", do))
        yield name, "" if number is None else str(number)
