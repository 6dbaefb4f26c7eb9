"""Tokens: the numbers and dates that the narrative may take from the data, in double braces.

``{{ max.pce }}`` in a text file becomes ``53,300 ng per sampler (SS-01; E)``. A token that is
not of this vocabulary stops a build. The vocabulary:

=============================================  =====================================================
``count.locations.STAGE``                      planned points at a stage, points added in the field
                                               aside: planned, placed, recovered, analysed, usable
``count.locations.added``                      points added in the field and placed
``count.samplers.X``                           samplers of every kind: listed, placed, recovered,
                                               lost, duplicates, blanks (trip and field), spares
``count.results``, ``count.detections``        reportable results of points, and detections of them
``count.compounds``                            compounds looked for
``count.compounds.detected``                   compounds detected at one point or more
``count.bags``, ``count.shipments``            return bags, shipments
``exposure.days.X``                            exposure in days: median, shortest, longest
``max.ID``                                     highest mass in soil of the compound ID, and where
``detections.ID``                              points in soil with a detection of ID, of those analysed
``rl.ID``                                      reporting limits in soil of the compound ID
``date.report``                                the report's date
``date.placed.first``, ``date.placed.last``    days of placing
``date.retrieved.first``, ``….last``           days of retrieving
``project.X``                                  id, title, site, client, work_plan
``revision``, ``status``                       as project.toml has them
=============================================  =====================================================

Qualifiers and the word ``blank`` stand behind the point's id, since marks travel with numbers.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import date

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.field.completeness import STAGES
from sitegen.compute.field.exposure import DUPLICATE, LOST
from sitegen.compute.formats import long_date, spanned
from sitegen.compute.results.store import stored_results
from sitegen.compute.results.summary import Summary
from sitegen.compute.statistics.rounding import as_reported, rounded_text
from sitegen.project.survey import Survey
from sitegen.units import UNIT_TEXT, minutes_to_days
from sitegen.voice import thousands, worded

TOKEN = re.compile(r"\{\{\s*(?P<name>[^{}]*?)\s*\}\}")
BRACES = re.compile(r"\{\{|\}\}")
NOTHING = "none"
_FIXED = (
    *(f"count.locations.{stage}" for stage in STAGES),
    "count.locations.added",
    *(f"count.samplers.{what}" for what in ("listed", "placed", "recovered", "lost", "duplicates", "blanks", "spares")),
    "count.results",
    "count.detections",
    "count.compounds",
    "count.compounds.detected",
    "count.bags",
    "count.shipments",
    *(f"exposure.days.{what}" for what in ("median", "shortest", "longest")),
    "date.report",
    *(f"date.{what}.{which}" for what in ("placed", "retrieved") for which in ("first", "last")),
    *(f"project.{what}" for what in ("id", "title", "site", "client", "work_plan")),
    "revision",
    "status",
)
BY_COMPOUND = ("max", "detections", "rl")
"""Beginnings of the tokens of a compound."""


def token_names(survey: Survey) -> frozenset[str]:
    """Return every token that a survey knows."""
    compounds = survey.frame("analytes")["analyte_id"]
    return frozenset(_FIXED) | {f"{kind}.{name}" for kind in BY_COMPOUND for name in compounds if name}


def tokens(survey: Survey, evaluation: Evaluation) -> dict[str, str]:
    """Return the text of every token, as it is printed."""
    return {
        **_counts(survey, evaluation),
        **_exposures(evaluation),
        **_dates(survey, evaluation),
        **_compounds(evaluation),
    }


def fill(text: str, values: Mapping[str, str]) -> str:
    """Put values for tokens. KeyError for a token without one.

    >>> fill("{{ count.bags }} bags", {"count.bags": "2"})
    '2 bags'
    """
    return TOKEN.sub(lambda match: values[match["name"]], text)


def _counts(survey: Survey, evaluation: Evaluation) -> dict[str, str]:
    stages = evaluation.completeness
    placed = evaluation.placements
    kinds = survey.frame("samplers")["kind"]
    primary = evaluation.primary
    counts = {f"count.locations.{stage}": n for stage, n in zip(STAGES, stages.overall.counts, strict=True)}
    counts |= {
        "count.locations.added": stages.added.counts[STAGES.index("placed")],
        "count.samplers.listed": len(kinds),
        "count.samplers.placed": len(placed),
        "count.samplers.recovered": sum(p.recovered for p in placed),
        "count.samplers.lost": sum(p.state == LOST for p in placed),
        "count.samplers.duplicates": sum(p.role == DUPLICATE for p in placed),
        "count.samplers.blanks": int(kinds.isin(("trip_blank", "field_blank")).sum()),
        "count.samplers.spares": int((kinds == "spare").sum()),
        "count.results": len(primary),
        "count.detections": int(primary["detected"].sum()),
        "count.compounds": len(evaluation.compounds),
        "count.compounds.detected": primary.loc[primary["detected"], "analyte_id"].nunique(),
        "count.bags": len(survey.frame("return_bags")),
        "count.shipments": len(survey.frame("shipments")),
    }
    return {name: thousands(f"{value:,}") for name, value in counts.items()}


def _exposures(evaluation: Evaluation) -> dict[str, str]:
    days = [p.exposure_days for p in evaluation.placements if p.recovered and p.exposure_days is not None]
    median = evaluation.median_exposure_min
    middle = minutes_to_days(median) if median is not None else None
    figures = {"median": middle, "shortest": min(days, default=None), "longest": max(days, default=None)}
    return {f"exposure.days.{k}": worded(NOTHING) if v is None else f"{v:.1f}" for k, v in figures.items()}


def _dates(survey: Survey, evaluation: Evaluation) -> dict[str, str]:
    project = survey.settings.project
    values = {"date.report": long_date(project.report_date)}
    for what in ("placed", "retrieved"):
        moments = ((getattr(p, f"{what}_utc"), getattr(p, f"{what}_at")) for p in evaluation.placements)
        known = sorted((utc, at) for utc, at in moments if at and utc is not None and utc >= 0)
        days = [long_date(date.fromisoformat(at[:10])) for _, at in known] or [worded(NOTHING)]
        values[f"date.{what}.first"], values[f"date.{what}.last"] = days[0], days[-1]
    for what in ("id", "title", "site", "client", "work_plan"):
        values[f"project.{what}"] = getattr(project, what) or worded(NOTHING)
    return values | {"revision": str(project.revision), "status": project.status}


def _compounds(evaluation: Evaluation) -> dict[str, str]:
    values = {}
    for compound in evaluation.compounds:
        summary = evaluation.summaries.get((compound.analyte_id, "soil"))
        values[f"max.{compound.analyte_id}"] = _highest(evaluation, summary)
        share = shared(summary.detected, summary.analysed) if summary else worded(NOTHING)
        values[f"detections.{compound.analyte_id}"] = share
        values[f"rl.{compound.analyte_id}"] = _limits(summary) if summary else worded(NOTHING)
    return values


def _highest(evaluation: Evaluation, summary: Summary | None) -> str:
    if summary is None:
        return worded("no result")
    if summary.highest is None:
        return worded("not detected (reporting limit {limits})", limits=_limits(summary))
    marks = "".join(f"; {mark}" for mark in _marks(evaluation, summary))
    return f"{rounded_text(summary.highest)} {_unit(summary)} ({summary.highest_at}{marks})"


def shared(part: int, whole: int) -> str:
    """Write how many of all.

    >>> shared(43, 55)
    '43 of 55'
    """
    return worded("{part} of {whole}", part=part, whole=whole)


def _limits(summary: Summary) -> str:
    if math.isnan(summary.rl_high):
        return worded("not given")
    low, high = as_reported(summary.rl_low), as_reported(summary.rl_high)
    return f"{low if low == high else spanned(low, high)} {_unit(summary)}"


def _unit(summary: Summary) -> str:
    return UNIT_TEXT.get(summary.unit, summary.unit)


def _marks(evaluation: Evaluation, summary: Summary) -> Iterator[str]:
    """Yield the qualifiers of the highest result, and ``blank`` where a blank touches it."""
    primary = evaluation.primary
    at = (primary["lab_sample_id"] == summary.highest_sample) & (primary["analyte_id"] == summary.analyte_id)
    for row in stored_results(primary[at]):
        yield from _distinct((row.lab_qualifier, row.validation_qualifier))
        if any(row.key in hit.touched for hit in evaluation.blank_hits):
            yield worded("blank")


def _distinct(names: Iterable[str]) -> Iterator[str]:
    yield from dict.fromkeys(name for name in names if name)
