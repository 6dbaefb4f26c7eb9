"""Changes without a reason, characters that print lacks, and holders that change: told of the right row, in words."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import pytest
from builders import Row, load, row_of
from few_rows import deployed, survey_of, told
from journeys import folder

from sitegen.checks import custody, lettering
from sitegen.checks.changes import changes_without_reason, previous_unreadable, reason_for, reasons_of
from sitegen.compute.custody.events import Event
from sitegen.compute.evidence.difference import Change, Difference
from sitegen.project.schema import Origin
from sitegen.project.tables import ChangeReason

VALUE = Change("value", "results:L-1+pce", "lab/results.csv", "P-1, PCE", "result_text", "20", "50")
ADDED = Change("added", "locations:P-2", "locations/locations.csv", "P-2", "", "", "location_id P-2")
BLANK = Change("qualifier", "results:L-1+tce", "lab/results.csv", "P-1, TCE", "lab_qualifier", "", "J")


def told_of(*changes: Change, reasons: tuple[Row, ...] = ()) -> list[tuple[str, str, str, str]]:
    """Return key, file, column and words of what is found."""
    rows = [{"revision": "1", "reason": "r"} | row for row in reasons]
    survey = load(folder({"changes": rows}))
    found = changes_without_reason(survey, cast("Difference", SimpleNamespace(changes=changes)))
    return [(f.subject, f.where.file, str(f.where.column), f.found) for f in found]


def test_a_change_without_a_reason_is_told_with_what_became_what() -> None:
    assert told_of(VALUE, ADDED, BLANK) == [
        ("results:L-1+pce", "lab/results.csv", "result_text",
         "a change without a reason (P-1, PCE: result_text 20 became 50)"),
        ("locations:P-2", "locations/locations.csv", "None", "a change without a reason (P-2: added)"),
        ("results:L-1+tce", "lab/results.csv", "lab_qualifier",
         "a change without a reason (P-1, TCE: lab_qualifier blank became J)"),
    ]  # fmt: skip


def test_changes_beyond_twenty_are_counted() -> None:
    many = [replace(VALUE, key=f"results:L-{n:02}+pce") for n in range(23)]
    assert len(told_of(*many[:20])) == 20
    found = told_of(*many)
    assert len(found) == 21
    assert found[-1][0::3] == ("more", "3 more changes without a reason")


@pytest.mark.parametrize(
    ("row", "covers"),
    [
        ({"key": "results:L-1+pce"}, True),
        ({"key": "lab/results.csv"}, True),
        ({"key": "results:L-*"}, True),
        ({"key": "results:M-*"}, False),
        ({"key": "results:L-"}, False),
        ({"key": "results:L-1+pce", "reason": ""}, False),
        ({"key": "results:L-1+pce", "revision": "2"}, False),
    ],
)
def test_a_reason_is_for_a_key_a_file_or_the_beginning_of_keys(row: Row, *, covers: bool) -> None:
    """Of this revision, and in words."""
    assert (told_of(VALUE, reasons=(row,)) == []) is covers
    survey = load(folder({"changes": [{"revision": "1", "reason": "r"} | row]}))
    assert reason_for(VALUE, reasons_of(survey)) == ("r" if covers else "")


def test_the_first_reason_that_covers_a_change_is_given() -> None:
    stated = (("results:*", ""), ("lab/results.csv", "a"), ("results:L-1+pce", "b"))
    rows = [row_of(ChangeReason, key=key, reason=reason) for key, reason in stated]
    assert reason_for(VALUE, rows) == "a"


def test_a_previous_revision_that_can_t_be_read_is_named_without_its_way() -> None:
    """The way to it tells of the machine."""
    survey = load(folder({}))
    part = survey.settings.project.model_copy(update={"previous": "../old/first.zip"})
    found = previous_unreadable(replace(survey, settings=survey.settings.model_copy(update={"project": part})), "why")
    assert found.found == "'first.zip', which cannot be compared (why)"
    assert (found.where.column, found.subject_kind) == ("project.previous", "setting")


# --- letters -----------------------------------------------------------------------------------

UNKNOWN = "\U00013000"
"""An Egyptian hieroglyph, which no font of the printed report has."""


def test_a_character_that_print_lacks_is_told_of_each_kind_of_text_by_its_row() -> None:
    """Texts, ids and lists of ids; a table without a key is told by the number of its row, from 0."""
    survey = survey_of({
        "deviations": [{"deviation_id": "D-1", "what": "plain"}, {"deviation_id": "D-2", "what": f"a {UNKNOWN}"},
                       {"deviation_id": "D-3", "what": "w", "affected_ids": f"P-1;{UNKNOWN}"}],
        "lab_qc": [{"lab_sample_id": "L-1", "qc_type": "surrogate", "name": "n"},
                   {"lab_sample_id": "L-1", "qc_type": "surrogate", "name": UNKNOWN}],
        "locations": [{"location_id": f"P-{UNKNOWN}", "medium": "soil_gas"}],
    })  # fmt: skip
    found = list(lettering.characters_print(survey))
    assert {(f.where.file, f.where.row, f.where.column, f.subject, f.subject_kind) for f in found} == {
        ("field/deviations.csv", 3, "what", "deviations+D-2+what", "deviations"),
        ("field/deviations.csv", 4, "affected_ids", "deviations+D-3+affected_ids", "deviations"),
        ("lab/lab_qc.csv", 3, "name", "lab_qc+1+name", "lab_qc"),
        ("locations/locations.csv", 2, "location_id", f"locations+P-{UNKNOWN}+location_id", "locations"),
    }


def test_of_many_unprintable_cells_of_a_column_twenty_are_told() -> None:
    rows = [deployed("2025-06-02T08:00", "", sampler_id=f"S-{n}", comment=f"{n} {UNKNOWN}") for n in range(23)]
    assert len(told(lettering.characters_print(survey_of({"deployments": rows})))) == 20


# --- holders -----------------------------------------------------------------------------------


def at(minute: int, kind: str, row: int) -> Event:
    return Event(minute, "2025-06-02T08:00", kind, "B", "sampler", "S", Origin("field/custody.csv", row), f"E-{row}")


def test_a_change_of_holder_is_told_at_its_first_event_by_time_and_by_the_order_of_work() -> None:
    """In one minute a sampler is retrieved before another is bagged, whatever the letters of the words."""
    survey = load(folder({}))
    events = (at(30, "retrieved", 4), at(29, "stored", 5), at(29, "retrieved", 7), at(29, "bagged", 6))
    found = custody._change_of_holder(survey, ("bag", "B-1", "A", "B"), events)
    assert (found.where.row, found.subject, found.subject_kind) == (7, "B-1+A+B", "bag")
    assert found.found.startswith("4 samplers of bag B-1 with A, then retrieved by B (first at ")
    alone = custody._change_of_holder(survey, ("sampler", "S-1", "A", "B"), events[:1])
    assert alone.found.startswith("sampler S-1 with A, then retrieved by B")
