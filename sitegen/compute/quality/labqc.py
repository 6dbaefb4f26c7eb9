"""The laboratory's own quality control: what lies out of its limits, on which side, and what it bears on.

A surrogate and an internal standard act on their laboratory sample; a control and a
calibration check on the samples of their batch, in the compound that they name. Limits
are those given with the row; a surrogate without any is held against the default ones.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeAlias

import pandas as pd

from sitegen.compute.formats import spanned
from sitegen.compute.limits import LimitRecord
from sitegen.compute.marks import MarkFact
from sitegen.project.delivery.names import Compounds
from sitegen.project.schema import Origin
from sitegen.project.survey import Survey
from sitegen.project.tables import Analyte, LabControl
from sitegen.voice import worded

CODES: Mapping[str, str] = {
    "surrogate": "surrogate-out",
    "control": "control-out",
    "control_duplicate": "control-out",
    "calibration_check": "calibration-check-out",
    "internal_standard": "internal-standard-out",
}
"""Kind of row in lab_qc.csv to the check that it fails."""

BIASED = ("surrogate-out", "control-out", "calibration-check-out")
"""Checks of a recovery: the side says in which direction results are off. An internal standard's does not."""

OF_SAMPLE = ("surrogate", "internal_standard")
LOW, VERY_LOW, HIGH, WITHIN, NOT_JUDGED = "low", "very low", "high", "within", "not judged"
OUT = (LOW, VERY_LOW, HIGH)
NO_BATCH, NO_COMPOUND = "no batch", "no compound"

Key: TypeAlias = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Control:
    """One measurement of quality control beside its limits, which may be NaN (value and limits in ``unit``).

    ``limit_source`` is that of the limits used, "" where the laboratory names none. ``side``
    is one of ``OUT``, within, or not judged for want of a value or a limit. ``reach`` holds
    (lab_sample_id, analyte_id) of the results that it bears on; ``beyond`` says why a row
    that is out of its limits bears on none.
    """

    code: str
    qc_type: str
    lab_sample_id: str
    name: str
    value: float
    unit: str
    lower: float
    upper: float
    limit_source: str
    side: str
    reach: tuple[Key, ...]
    beyond: str
    origin: Origin

    @property
    def value_text(self) -> str:
        """The value with its unit."""
        return f"{self.value:g} {self.unit}".strip()

    @property
    def limits_text(self) -> str:
        """The limits as a reader writes them, with their unit; "" where there are none."""
        lower, upper = (None if math.isnan(limit) else f"{limit:g}" for limit in (self.lower, self.upper))
        if lower and upper:
            return f"{spanned(lower, upper)} {self.unit}".strip()
        least, most = worded("at least {limit}", limit=lower), worded("at most {limit}", limit=upper)
        one_side = least if lower else most if upper else ""
        return f"{one_side} {self.unit}".strip() if one_side else ""


def side_of(value: float, lower: float, upper: float, reject: float) -> str:
    """Return on which side of its limits a value lies; ``reject``, NaN or a limit, divides low from very low.

    >>> [side_of(x, 70, 130, 10) for x in (58, 9.9, 131, 70)]
    ['low', 'very low', 'high', 'within']
    >>> side_of(58, float("nan"), float("nan"), 10), side_of(9, 70, 130, float("nan"))
    ('not judged', 'low')
    """
    if math.isnan(value) or (math.isnan(lower) and math.isnan(upper)):
        return NOT_JUDGED
    if value < lower:
        return VERY_LOW if value < reject else LOW
    return HIGH if value > upper else WITHIN


def controls(survey: Survey, store: pd.DataFrame, in_force: Mapping[str, LimitRecord]) -> tuple[Control, ...]:
    """Return every measurement of lab_qc.csv beside its limits, in file order."""
    reach = _Reach(survey, store)
    return tuple(_control(row, in_force, reach) for row in survey.rows(LabControl) if row.qc_type in CODES)


def _control(row: LabControl, in_force: Mapping[str, LimitRecord], reach: _Reach) -> Control:
    lower, upper, source = _limits(row, in_force)
    code = CODES[row.qc_type]
    recovery = code in BIASED and row.unit in ("%", "")
    side = side_of(row.value, lower, upper, in_force["recovery_reject_pct"].value if recovery else math.nan)
    keys, beyond = reach.of(row) if side in OUT else ((), "")
    return Control(
        code, row.qc_type, row.lab_sample_id, row.name, row.value, row.unit,
        lower, upper, source, side, keys, beyond, row.origin,
    )  # fmt: skip


def _limits(row: LabControl, in_force: Mapping[str, LimitRecord]) -> tuple[float, float, str]:
    """Return the limits of a row and their source: its own, else for a surrogate the default ones."""
    given = not (math.isnan(row.lower) and math.isnan(row.upper))
    if given or row.qc_type != "surrogate":
        return row.lower, row.upper, row.limit_source
    low, high = in_force["surrogate_lower_pct"], in_force["surrogate_upper_pct"]
    return low.value, high.value, "; ".join(dict.fromkeys((low.source, high.source)))


class _Reach:
    """Finds the results that a row of lab_qc.csv bears on."""

    def __init__(self, survey: Survey, store: pd.DataFrame) -> None:
        samples = survey.frame("lab_samples")
        self._batch = dict(zip(samples["lab_sample_id"], samples["batch_id"], strict=True))
        self._compounds = Compounds(survey.rows(Analyte), {})
        self._store = store

    def of(self, row: LabControl) -> tuple[tuple[Key, ...], str]:
        """Return the results, and why there are none where there can be none."""
        sample, name = row.lab_sample_id, row.name
        if row.qc_type in OF_SAMPLE:
            return self._keys(self._store["lab_sample_id"] == sample), ""
        batch = self._batch.get(sample, "")
        if not batch:
            return (), NO_BATCH
        own = (self._store["batch_id"] == batch) & (self._store["sampler_id"] != "") & self._store["reportable"]
        if not name:
            return self._keys(own), ""
        wanted = self._compounds.find(name, "").analyte_id or self._compounds.find("", name).analyte_id
        return (self._keys(own & (self._store["analyte_id"] == wanted)), "") if wanted else ((), NO_COMPOUND)

    def _keys(self, mask: pd.Series[bool]) -> tuple[Key, ...]:
        rows = self._store[mask]
        return tuple(zip(rows["lab_sample_id"], rows["analyte_id"], strict=True))


def control_marks(measurements: Iterable[Control]) -> Iterator[tuple[Key, MarkFact]]:
    """Yield a mark for each result that a measurement out of its limits bears on."""
    for one in measurements:
        if one.side in OUT:
            facts = (
                ("name", one.name),
                ("value", one.value_text),
                ("limits", one.limits_text),
                ("sample", one.lab_sample_id),
                ("side", one.side),
            )
            mark = MarkFact(one.code, "result", f"{one.lab_sample_id}+{one.name}", facts)
            for key in one.reach:
                yield key, mark
