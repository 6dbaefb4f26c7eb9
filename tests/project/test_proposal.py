"""A mapping drafted for a laboratory's file: what is proposed is right, and nothing is read before it is confirmed."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Mapping
from decimal import Decimal
from functools import cache

import pandas as pd
import pytest
from in_memory import example, folder_of
from laboratories import LABORATORIES
from laboratory import SAMPLERS_CSV, Laboratory, Truth

from sitegen.findings.problems import Finding
from sitegen.project.folder import Folder
from sitegen.project.load import load_folder
from sitegen.project.proposal.draft import Draft, Drafts, draft_mappings
from sitegen.project.proposal.known import known_of
from sitegen.project.proposal.sure import ASK, CERTAIN, LEFT, Entry
from sitegen.project.proposal.write import key_text, value_text
from sitegen.project.survey import Survey
from sitegen.project.tables import LabControl, LabSample, Result

FOUND = {
    "long": 19, "units_in_header": 24, "semicolons": 28, "merged": 24, "compounds_across": 23, "suffixed": 25,
    "mixed": 21, "two_sheets": 36, "pages": 28, "numbers_as_ids": 29, "joined": 25, "labelled_rows": 25,
    "unclear": 24, "continued": 24,
}  # fmt: skip
"""So many lines of each mapping are proposed right, at least."""
OWN = ("source.file", "source.sha256")


@cache
def laboratory(name: str) -> Laboratory:
    return LABORATORIES[name]()


@cache
def drafted(name: str) -> Drafts:
    """Return the drafts of a laboratory's file beside the samplers and compounds of the survey."""
    of = laboratory(name)
    folder = folder_with(of)
    return draft_mappings(folder, of.file, known_of(folder))


def folder_with(of: Laboratory, mappings: Mapping[str, str] | None = None) -> Folder:
    """Return a survey's folder with a laboratory's file and mappings in it."""
    settings = (example().content("project.toml") or b"").decode() + "\n" + of.settings
    files = {
        "project.toml": settings.encode(),
        "field/samplers.csv": SAMPLERS_CSV.encode(),
        "lab/analytes.csv": of.analytes.encode(),
        of.file: of.content,
    }
    return folder_of(files | {path: text.encode() for path, text in (mappings or {}).items()})


def proposed(draft: Draft) -> dict[str, list[Entry]]:
    """Return the lines of a draft that say something, by table and key."""
    found: dict[str, list[Entry]] = {}
    for entry in draft.entries:
        name = f"{entry.table}.{entry.key}"
        if entry.sure not in (ASK, LEFT) and name not in OWN:
            found.setdefault(name, []).append(entry)
    return found


def scores(name: str) -> Counter[str]:
    """Count the lines that are proposed right, wrong (surely or not), or not at all."""
    counts: Counter[str] = Counter()
    for draft in drafted(name).drafts:
        found = proposed(draft)
        for key, value in laboratory(name).fields[draft.sheet].items():
            entries = found.pop(key, [])
            counts["right" if entries and all(entry.value == value for entry in entries) else "absent"] += 1
            counts.update(_wrong(entry) for entry in entries if entry.value != value)
        counts.update(_wrong(entry) for entries in found.values() for entry in entries)
    return counts


def _wrong(entry: Entry) -> str:
    return "wrong, called certain" if entry.sure == CERTAIN else "wrong"


def test_lines_are_proposed_right_and_none_called_certain_is_wrong() -> None:
    """For each laboratory as many lines as before are right; what is wrong was never called certain."""
    sys.stdout.write(f"\n{'laboratory':18}{'right':>8}{'wrong':>8}{'not at all':>12}{'called certain':>16}\n")
    for name in LABORATORIES:
        counts = scores(name)
        certain = sum(entry.sure == CERTAIN for draft in drafted(name).drafts for entry in draft.entries)
        sys.stdout.write(f"{name:18}{counts['right']:8}{counts['wrong']:8}{counts['absent']:12}{certain:16}\n")
        assert counts["wrong, called certain"] == 0, name
        assert counts["wrong"] == 0, name
        assert counts["right"] >= FOUND[name], name


@pytest.mark.parametrize("name", LABORATORIES)
def test_a_draft_asks_for_what_its_file_leaves_open_and_for_nothing_else(name: str) -> None:
    """What a person must say is what the laboratory's file does not tell."""
    asked = {f"{entry.table}.{entry.key}" for draft in drafted(name).drafts for entry in draft.asked}
    assert asked == set(laboratory(name).answers)
    assert drafted(name).refused == ()


@pytest.mark.parametrize("name", LABORATORIES)
def test_nothing_of_a_draft_is_read_before_it_is_confirmed(name: str) -> None:
    """A draft as it was written gives no result, and the record says that nobody confirmed it."""
    survey, findings = loaded(laboratory(name), {draft.path: draft.text for draft in drafted(name).drafts})
    assert len(survey.rows(Result)) == 0
    assert {finding.code for finding in findings} & {"mapping-unconfirmed", "mapping-invalid"}


@pytest.mark.parametrize("name", LABORATORIES)
def test_a_confirmed_draft_reads_every_result_as_it_was_made(name: str) -> None:
    """Number, limit, unit, non-detect, qualifier and sampler of every result are those of the laboratory."""
    of = laboratory(name)
    survey, findings = loaded(of, {draft.path: confirmed(draft, of.answers) for draft in drafted(name).drafts})
    stops = [f.line() for f in findings if f.where.file.startswith("lab/") and f.severity.value in ("stop", "hold")]
    assert stops == []
    read = {
        Truth(row.lab_sample_id, row.analyte_id, exact(row.value), exact(row.rl), row.lab_qualifier)
        for row in survey.rows(Result)
    }
    assert {row.unit for row in survey.rows(Result)} == {"ng"}
    assert read == of.truth
    told = {row.lab_sample_id: row.sampler_id for row in survey.rows(LabSample)}
    assert {sample: sampler for sample, sampler in told.items() if sampler} == of.samplers


@pytest.mark.parametrize("name", [name for name in LABORATORIES if LABORATORIES[name]().qc])
def test_a_confirmed_draft_reads_quality_control_apart(name: str) -> None:
    """Recoveries come into lab_qc with both limits of their cell, and none of them into results."""
    of = laboratory(name)
    survey, _ = loaded(of, {draft.path: confirmed(draft, of.answers) for draft in drafted(name).drafts})
    read = {(r.lab_sample_id, r.qc_type, r.name, r.value, r.lower, r.upper) for r in survey.rows(LabControl)}
    assert read == of.qc


def test_what_a_draft_asks_for_stops_reading_while_nobody_says_it() -> None:
    """Numbers, dates, tokens and qualifiers that can be read in two ways are never read in one of them."""
    of = laboratory("unclear")
    (draft,) = drafted("unclear").drafts
    assert len(of.answers) == 5
    for left in ("source.decimal", "nondetect.tokens", "qualifiers.D", "source.dates"):
        said = {key: value for key, value in of.answers.items() if key != left}
        _, findings = loaded(of, {draft.path: confirmed(draft, said)})
        assert [f for f in findings if f.severity.value == "stop" and f.where.file in (of.file, draft.path)], left


def loaded(of: Laboratory, mappings: Mapping[str, str]) -> tuple[Survey, list[Finding]]:
    survey, findings = load_folder(folder_with(of, mappings))
    assert survey is not None
    return survey, findings


def exact(number: float) -> Decimal | None:
    return None if pd.isna(number) else Decimal(repr(number)).normalize() + 0


def confirmed(draft: Draft, answers: Mapping[str, object]) -> str:
    """Do what a person does: say what is asked for, then confirm lines and totals."""
    asked = {f"{entry.table}.{entry.key}": entry for entry in draft.asked}
    table, lines = "", []
    for line in draft.text.splitlines():
        if line.startswith("["):
            table = line.strip("[]")
        key = next((k for k in answers if k in asked and _is_line(line, table, asked[k])), "")
        lines.append(f"{key_text(asked[key].key)} = {value_text(answers[key])}" if key else line)  # type: ignore[arg-type]
    return (
        "\n".join(lines).replace('\nmapping = ""', '\nmapping = "LR-1"').replace('\ncontrol = ""', '\ncontrol = "LR-1"')
    )


def _is_line(line: str, table: str, entry: Entry) -> bool:
    return table == entry.table and line.removeprefix("# ").startswith(f"{key_text(entry.key)} = ")
