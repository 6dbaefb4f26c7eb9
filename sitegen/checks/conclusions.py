"""Conclusions beside the record: claims that differ from it, exceedances and objectives that nothing is said of."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from sitegen.checks.catalogue import find
from sitegen.checks.narrative import template_words
from sitegen.checks.rows import compound_names
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.picture.occupied import buildings
from sitegen.compute.results.screening import ABOVE, by_result
from sitegen.compute.statistics.rounding import as_reported, rounded_text
from sitegen.compute.text.claims import Above, Claim, Judged, Measured, Record, claims, concludes, silent_sections
from sitegen.compute.text.claimwords import composed
from sitegen.compute.text.objectives import open_objectives
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.survey import Survey
from sitegen.project.tables import Analyte
from sitegen.units import UNIT_TEXT
from sitegen.voice import ENGLISH, voice, worded


def claims_agree(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """What the narrative says of a compound at a point is what the record has."""
    record = Record(evaluation)
    groups = {row.group: _group_name(row.group) for row in survey.rows(Analyte)}
    names = groups | compound_names(survey)
    differences: dict[str, Finding] = {}
    for claim in claims(survey):
        for judged in record.judge(claim):
            limited = judged.verdict == "open" and judged.reading.limited
            if judged.verdict in ("differs", "no result") or limited:
                finding = _difference(claim, judged, names, evaluation.mass_unit.text, limited=limited)
                differences.setdefault(finding.subject, finding)
    yield from differences.values()


def _group_name(group: str) -> str:
    """Write a group of compounds: in our words where it is one of the format's, else as it stands in the table."""
    return worded(_GROUPS[group]) if group in _GROUPS else group.replace("_", " ")


_GROUPS = {
    "chlorinated_ethenes": "chlorinated ethenes",
    "chlorinated_other": "chlorinated other",
    "fuel_aromatics": "fuel aromatics",
    "oxygenates": "oxygenates",
    "pah": "pah",
}
_STATED = {
    "highest": "{name} stated to be highest at {point}: {here}",
    "higher": "{name} stated to be higher at {point}: {here}",
    "detected": "{name} stated to be detected at {point}: {here}",
    "not detected": "{name} stated to be not detected at {point}: {here}",
}


def _difference(claim: Claim, judged: Judged, names: Mapping[str, str], unit: str, *, limited: bool) -> Finding:
    reading = judged.reading
    found, expected = _beside(judged, names, unit)
    subject = (claim.section, reading.what, reading.point, reading.relation, *(reading.other or ())[1:])
    return find(
        "claim-differs",
        "+".join(subject).replace(" ", "-"),
        Where(f"text/{claim.section}.md", claim.line),
        found,
        expected,
        do=worded("state in the sentence which points are compared") if limited else "",
        severity=Severity.FLAG if limited else None,
        kind="text",
    )


def _beside(judged: Judged, names: Mapping[str, str], unit: str) -> tuple[str, str]:
    """Return what the sentence says beside what the record has, and what the record would bear."""
    reading, found = judged.reading, judged.found
    name, point = names.get(reading.what, reading.what), reading.point
    here, there = _amount(found, unit), _amount(judged.other, unit)
    if reading.other and reading.other[0] == "point":
        at = reading.other[1]
        return (
            worded(
                "{name} stated to be higher at {point} than at {at}: {here} compared with {there}",
                name=name,
                point=point,
                at=at,
                here=here,
                there=there,
            ),
            worded("the higher mass at the point stated to be higher"),
        )
    if reading.other:
        than = names.get(reading.other[1], reading.other[1])
        return (
            worded(
                "{name} stated to be higher than {than} at {point}: {here} compared with {there}",
                name=name,
                than=than,
                point=point,
                here=here,
                there=there,
            ),
            worded("the higher mass for the compound stated to be higher"),
        )
    words = worded(_STATED[reading.relation], name=name, point=point, here=here)
    if reading.relation == "highest":
        at = found.highest_at if found else ""
        return words, worded("highest at {at}", at=at) if at else worded("the highest result at that point")
    if reading.relation == "detected":
        return words, worded("a detection at the point")
    return words, worded("no detection by any sampler at the point, duplicates included")


def _amount(found: Measured | None, unit: str) -> str:
    """Write what the record has at a point, with its rank among the detections; ``unit`` is that of a sum."""
    if found is None:
        return worded("no usable result")
    if found.mass is None:
        return (
            worded("not detected (limit {limit})", limit=as_reported(found.limit))
            if found.row
            else worded("not detected")
        )
    own = UNIT_TEXT[found.row.unit] if found.row else unit
    return worded(
        "{mass} {unit}, rank {rank} of {detections} detections",
        mass=rounded_text(found.mass), unit=own, rank=found.rank, detections=found.detections,
    )  # fmt: skip


def exceedances_concluded(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Each result above a screening level is named in the summary or the conclusions."""
    if not _has_conclusions(survey):
        return
    sentences, names = claims(survey), compound_names(survey)
    for above in dict.fromkeys(_above(evaluation)):
        if not concludes(above, sentences):
            what, medium = names.get(above.analyte_id, above.analyte_id), worded(above.medium.replace("_", " "))
            yield find(
                "exceedance-not-concluded",
                f"{above.point}+{above.analyte_id}",
                Where("text/conclusions.md"),
                worded(
                    "no sentence of the summary or the conclusions mentions {what} with {point} or {medium}",
                    what=what,
                    point=above.point,
                    medium=medium,
                ),
                worded("a sentence on each result above a screening level"),
                kind="text",
            )


def exceedances_stated(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Each result above a screening level is named in the summary and in the conclusions, with its point or building.

    Where neither of them names it at all, ``exceedances_concluded`` holds the issue, and nothing is said here.
    """
    if not _has_conclusions(survey):
        return
    sentences, names = claims(survey), compound_names(survey)
    building = {name: one.name for one in buildings(survey, evaluation) for name in one.points}
    for above in dict.fromkeys(_above(evaluation)):
        if not concludes(above, sentences):
            continue
        inside = building.get(above.point, "")
        for section in silent_sections(above, inside, sentences):
            what, medium = names.get(above.analyte_id, above.analyte_id), worded(above.medium.replace("_", " "))
            otherwise = worded("the {medium} of {building}", medium=medium, building=inside) if inside else medium
            yield find(
                "exceedance-not-stated",
                f"{section}+{above.point}+{above.analyte_id}",
                Where(f"text/{section}.md"),
                worded(
                    "no sentence of the {section} names {what} together with {point} or {otherwise}",
                    section=worded(section),
                    what=what,
                    point=above.point,
                    otherwise=otherwise,
                ),
                worded("each result above a screening level in the summary and in the conclusions"),
                kind="text",
            )


def _has_conclusions(survey: Survey) -> bool:
    """Tell whether there are conclusions: without them it is said once that they are missing."""
    return bool(survey.texts.get("conclusions", "").strip())


def _above(evaluation: Evaluation) -> Iterator[Above]:
    """Yield where each result above a level was found; a duplicate beside its primary gives the same twice."""
    found = [some[0].concentration for some in by_result(evaluation.comparisons, ABOVE)]
    groups = {compound.analyte_id: compound.group for compound in evaluation.compounds}
    store = evaluation.store
    rows = store[store["lab_sample_id"].isin([one.lab_sample_id for one in found])]
    points = dict(zip(rows["lab_sample_id"], rows["location_id"], strict=True))
    for one in found:
        yield Above(points[one.lab_sample_id], one.analyte_id, groups.get(one.analyte_id, ""), one.medium)


# Bounded between the words, so that no sentence takes longer than its length.
OVER_A_LEVEL = re.compile(
    r"\b(?:above|over|exceed\w*|higher than)\b[^.;]{0,120}\blevels?\b|\blevels?\b[^.;]{0,120}\bexceed\w*", re.IGNORECASE
)

_OVER = (
    r"(?:por\s+encima\s+de|mayor(?:es)?\s+(?:que|a)|superior(?:es)?\s+al?|más\s+alt[oa]s?\s+que"
    r"|super(?:a|an|aba|aban|ó|aron|ado|ada|ados|adas|ar|en?)|exced\w*|sobrepas\w*|rebas\w*)"
)
_LEVEL = (
    r"(?:nivel(?:es)?\s+(?:\w+\s+){0,2}(?:referencia|cribado|intervención|acción|comparación|aplicables?|guía|objetivo)"
    r"|nivel(?:es)?(?=\s*(?:[,.;:)]|$)|\s+(?:residencial|industrial|comercial|genéric|normativ|que|para)\w*)"
    r"|valor(?:es)?\s+(?:\w+\s+){0,2}(?:referencia|límite|guía)|umbral(?:es)?|límites?\s+(?:legal|normativ)\w*)"
)
_SPANISH_OVER_A_LEVEL = re.compile(
    rf"\b{_OVER}\b[^.;]{{0,120}}\b{_LEVEL}|\b{_LEVEL}[^.;]{{0,120}}\b{_OVER}\b", re.IGNORECASE
)
_UNDECIDED = re.compile(
    r"\bsi\b|\bno\s+(?:se\s+)?(?:pued\w+|pud\w+|podr\w+|permit\w+|compar\w+|evalu\w+|cabe|es\s+posible|sabe\w*)\b"
    r"|\b(?:sin|ninguna)\s+compara\w+",
    re.IGNORECASE,
)
"""Spanish words that leave open whether a level is exceeded."""


def over_a_level(sentence: str) -> str:
    """Return the words of a sentence that say that a level is exceeded, "" where none do.

    >>> over_a_level("Benzene is above its level.")
    'above its level'
    """
    if voice().language == ENGLISH:
        match = OVER_A_LEVEL.search(sentence)
    else:
        text = composed(sentence)
        match = None if _UNDECIDED.search(text) else _SPANISH_OVER_A_LEVEL.search(text)
    return match[0] if match else ""


def levels_compared(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """No sentence says that a level is exceeded where no concentration could be compared with one."""
    if evaluation.comparisons:
        return
    for claim in claims(survey):
        if words := over_a_level(claim.text):
            yield find(
                "level-claimed",
                f"{claim.section}+{claim.line}",
                Where(f"text/{claim.section}.md", claim.line),
                worded("“{words}”, but no concentration on record can be compared with a level", words=words),
                worded("a statement supported by a comparison on record"),
                kind="text",
            )


def objectives_concluded(survey: Survey, _: Evaluation) -> Iterator[Finding]:
    """The summary or the conclusions name something of each stated objective; words of the template state none."""
    if not _has_conclusions(survey):
        return
    for objective in open_objectives(survey, claims(survey)):
        if next(template_words(objective.text), ""):
            continue
        words = ", ".join(objective.words[:8])
        yield find(
            "objective-not-concluded",
            f"objectives+{' '.join(objective.text.lower().split())}"[:120],
            Where("text/objectives.md", objective.line),
            worded("no sentence of the summary or the conclusions mentions any of: {words}", words=words),
            worded("a conclusion on each stated objective"),
            kind="text",
        )


EVALUATION_RULES = (claims_agree, exceedances_concluded, exceedances_stated, levels_compared, objectives_concluded)
