"""Findings in Spanish: the same ones at the same places with the same keys, and every text that is put together."""

from __future__ import annotations

import pytest
from builders import Change, cell, changed, example, setting, survey_findings
from defects import CUSTODY, DEPLOYMENTS, LOCATIONS

from sitegen.checks import changes, conclusions, custody, field, identity
from sitegen.checks.causes import row_ranges
from sitegen.checks.comments import watch_words
from sitegen.compute.quality.fieldmarks import CONDITION_CODES
from sitegen.findings.bagpaths import path_fault
from sitegen.findings.problems import Finding, Where
from sitegen.project.tables import TABLE
from sitegen.voice import Voice, phrases, speaking

SPANISH = Voice(language="es")
CASES: dict[str, tuple[Change, ...]] = {
    "example": (),
    "not retrieved as planned": (cell(DEPLOYMENTS, "0047103", "condition", "glass_damaged"),),
    "status": (cell(LOCATIONS, "SG-08", "status", "not_done"),),
    "unknown subject": (cell(CUSTODY, "E-0023", "subject_id", "RB-9"),),
    "bag": (setting("samplers_per_bag = 30", "samplers_per_bag = 28"),),
}


def found(changes_made: tuple[Change, ...], voice: Voice) -> tuple[Finding, ...]:
    """Return the findings of the example with changes, as a voice tells them."""
    with speaking(voice):
        return survey_findings(changed(*changes_made, folder=example()))


@pytest.mark.parametrize("case", CASES)
def test_a_finding_keeps_its_key_and_its_place_in_another_language(case: str) -> None:
    """Dispositions name keys: whoever decided in one language has decided in the other."""
    english, spanish = (found(CASES[case], voice) for voice in (Voice(), SPANISH))

    def kept(finding: Finding) -> tuple[object, ...]:
        where = finding.where
        place = where.file, where.row, where.column
        return finding.key, finding.severity, place, finding.subject_kind, finding.touches, finding.count, finding.rows

    assert [kept(finding) for finding in spanish] == [kept(finding) for finding in english]
    assert {finding.found for finding in spanish} != {finding.found for finding in english}


def test_texts_that_are_put_together_from_the_record_have_a_spanish_one() -> None:
    """They stand nowhere as one text: of events, conditions, statuses and the relations of a claim."""
    events = [custody._DONE.get(kind) or kind.replace("_", " ") for kind in TABLE["custody"].column("event").choices]
    texts = [
        *(f"then {event} by {{role}}" for event in events),
        *(code.replace("_", " ") for code in TABLE["deployments"].column("condition").choices),
        *(f"{code.replace('_', ' ')} on retrieval" for code in CONDITION_CODES),
        *(f"{status} though planned" for status in ("not done", "abandoned")),
        *(f"status {status} and a sampler installed there" for status in ("not done", "abandoned")),
        "status placed and no sampler installed there",
        *(medium.replace("_", " ") for medium in TABLE["locations"].column("medium").choices),
        *TABLE["custody"].column("seal_condition").choices,
        *TABLE["custody"].column("subject_kind").choices,
        *conclusions._STATED.values(),
        *conclusions._GROUPS.values(),
        *custody._NOT_WHOLE.values(),
        *changes._TOLD_WHOLE.values(),
        *field._ON_RECORD.values(),
    ]
    assert [text for text in texts if text not in phrases("es")] == []


def test_places_rows_and_paths_are_told_in_the_voice() -> None:
    """Also outside of a finding's own words."""
    with speaking(SPANISH):
        assert str(Where("field/samplers.csv", 12, "lot")) == "field/samplers.csv, fila 12, columna lot"
        assert row_ranges([9, 4, 5, 6]) == "filas 4–6, 9"
        assert path_fault("C:/data") == "empieza con la letra de una unidad"
        assert watch_words()[0].reason.startswith("una tapa o un vidrio")
        hint = identity._hint("47103", {"0047103"}, "field/samplers.csv")
    assert hint == "escribir 0047103: los ceros iniciales cuentan"
