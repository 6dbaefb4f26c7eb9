"""Forty-eight long files that mix non-detects, units, dates, decimal signs and limits: each is read as it was made."""

from __future__ import annotations

import pytest
from laboratories_mixed import CHOICES, COUNT, mixed_laboratory
from laboratory import Truth
from test_proposal import confirmed, exact, folder_with, loaded

from sitegen.project.proposal.draft import draft_mappings
from sitegen.project.proposal.known import known_of
from sitegen.project.tables import LabSample, Result


@pytest.mark.long
@pytest.mark.parametrize("number", range(COUNT))
def test_a_mixture_is_drafted_without_a_question_and_read_as_it_was_made(number: int) -> None:
    """Confirming is all that a person does; every result, limit, qualifier and sampler is the laboratory's."""
    of = mixed_laboratory(number)
    folder = folder_with(of)
    (draft,) = draft_mappings(folder, of.file, known_of(folder)).drafts
    assert draft.asked == ()
    survey, findings = loaded(of, {draft.path: confirmed(draft, {})})
    places = (of.file, draft.path)
    assert [f.line() for f in findings if f.severity.value in ("stop", "hold") and f.where.file in places] == []
    read = {
        Truth(row.lab_sample_id, row.analyte_id, exact(row.value), exact(row.rl), row.lab_qualifier)
        for row in survey.rows(Result)
    }
    assert read == of.truth
    assert {row.lab_sample_id: row.sampler_id for row in survey.rows(LabSample)} == of.samplers
    assert all(row.analysed_at for row in survey.rows(LabSample))


def test_every_choice_is_made_by_some_laboratory() -> None:
    """The mixtures leave no way of writing out."""
    contents = b"\n".join(mixed_laboratory(number).content for number in range(COUNT)).decode()
    for said in ("ND<", "< ", " U", "ng/sampler", "µg/tube", "Result (ug)", "Units: ng", "17.11.2025", "PM"):
        assert said in contents, said
    assert len({mixed_laboratory(number).content for number in range(COUNT)}) == COUNT
    assert [len(choice) for choice in CHOICES] == [6, 4, 3, 4, 2, 2, 2, 2]
