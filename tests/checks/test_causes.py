"""Findings of one cause are one entry: where all of them are, and the key that decides them and no other."""

from __future__ import annotations

from builders import changed, content, every, example, survey_findings
from hypothesis import given
from hypothesis import strategies as st

from sitegen.checks.causes import EXAMPLES, MOST_RANGES, causes, row_ranges, telling_notes
from sitegen.findings.problems import Finding, Severity, Where, in_order

SAMPLERS, DEPLOYMENTS = "field/samplers.csv", "field/deployments.csv"


def flag(code: str, subject: str, where: Where, **others: object) -> Finding:
    """Return a finding; a flag unless said otherwise."""
    parts = {"severity": Severity.FLAG, "found": "this", "expected": "that", "do": "mend it"} | others
    return Finding(code=code, subject=subject, where=where, **parts)  # type: ignore[arg-type]


def blanks(column: str, *rows: int) -> list[Finding]:
    """Return findings about blank cells of a column."""
    return [flag("cell-blank", f"samplers+{row}+{column}", Where(SAMPLERS, row, column)) for row in rows]


def test_a_cause_is_one_code_in_one_column_of_one_file() -> None:
    """Another column, file, code or severity is another cause; another row is not."""
    found = [
        *blanks("kind", 3, 5),
        *blanks("lot", 3),
        flag("cell-blank", "a", Where(DEPLOYMENTS, 3, "kind")),
        flag("word-unknown", "b", Where(SAMPLERS, 3, "kind")),
        flag("cell-blank", "c", Where(SAMPLERS, 3, "kind"), severity=Severity.HOLD),
    ]
    assert [len(cause.findings) for cause in causes(found)] == [2, 1, 1, 1, 1]


def test_two_hundred_findings_of_one_column_are_one_entry_with_all_their_rows() -> None:
    """What is told one by one is capped at reading: the rows of the rest are known all the same."""
    folder = changed(every(DEPLOYMENTS, lambda row: {"placed_at": row["placed_at"].replace("T", " at ")}))
    found = [finding for finding in survey_findings(folder) if finding.code == "time-unreadable"]
    (cause,) = causes(found)
    rows = example().files[DEPLOYMENTS].content.count(b"\n") - 1
    assert (cause.count, len(cause.examples)) == (rows, EXAMPLES)
    assert cause.place == f"{DEPLOYMENTS}, rows 2–{rows + 1}, column placed_at"
    assert all(example.count == 1 for example in cause.examples)


def test_whole_files_are_of_one_cause() -> None:
    """Each of them is named."""
    found = [flag("file-unknown", name, Where(name)) for name in ("lab/a.csv", "field/b.csv")]
    (cause,) = causes(found)
    assert cause.place == "lab/a.csv, field/b.csv"


def test_settings_are_of_one_cause_and_named_by_their_keys() -> None:
    found = [flag("setting-missing", key, Where("project.toml", None, key)) for key in ("project.id", "space.crs")]
    assert [cause.place for cause in causes(found)] == ["project.toml: project.id, space.crs"]


def test_each_finding_is_alone_where_all_are_wanted() -> None:
    found = blanks("kind", 3, 5)
    assert [cause.place for cause in causes(found, each=True)] == [str(one.where) for one in found]


def test_the_key_of_a_cause_decides_all_of_it_and_nothing_else() -> None:
    """The star stands behind the code where that is enough, else behind what the subjects begin with, else nowhere."""
    one, other = blanks("kind", 3, 5), [flag("cell-blank", "deployments+3", Where(DEPLOYMENTS, 3, "lot"))]
    assert [cause.key for cause in causes(one)] == ["cell-blank:*"]
    assert [cause.key for cause in causes([*one, *other])] == ["cell-blank:samplers+*", "cell-blank:deployments+3"]
    assert [cause.key for cause in causes([*one, *blanks("lot", 3)])] == ["", "cell-blank:samplers+3+lot"]


def test_stops_and_notes_have_no_key() -> None:
    for severity in (Severity.STOP, Severity.NOTE):
        (cause,) = causes([flag("cell-blank", "a", Where(SAMPLERS, 3), severity=severity)])
        assert cause.key == ""


def test_flags_that_wait_for_a_decision_are_told_by_their_own_code_and_key() -> None:
    """The findings that keep an issue back are about flags, and a row of dispositions is about the flag."""
    found = [
        flag("flag-undecided", subject, Where(SAMPLERS, 3, "lot"), severity=Severity.HOLD)
        for subject in ("cap-damaged:1", "cap-damaged:2", "custody-gap:1")
    ]
    assert [cause.key for cause in causes(found)] == ["cap-damaged:*", "custody-gap:1"]


@given(st.sets(st.integers(2, 200)))
def test_ranges_name_every_row_once(rows: set[int]) -> None:
    """Read back, the ranges and the number behind them are the rows."""
    words = row_ranges(rows).removeprefix("rows ").removeprefix("row ")
    listed, _, more = words.partition(" and ")
    told: list[int] = []
    for part in filter(None, listed.split(", ")):
        first, _, last = part.partition("–")
        told += range(int(first), int(last or first) + 1)
    assert told == sorted(rows)[: len(told)]
    assert len(told) + int(more.removesuffix(" more") or 0) == len(rows)
    assert listed.count(",") < MOST_RANGES


def test_a_file_of_another_name_is_told_beside_the_one_that_is_missing() -> None:
    """A note that names the missing file bears on the stop; other notes do not."""
    moved = changed(
        content("field/return_bgs.csv", b"bag_id\n"),
        content("field/zzz.csv", b"a\n"),
        content("field/return_bags.csv", b""),
    )
    del moved.files["field/return_bags.csv"]
    assert [finding.where.file for finding in telling_notes(survey_findings(moved))] == ["field/return_bgs.csv"]


def test_a_note_on_the_column_of_a_stop_bears_on_it() -> None:
    stop = flag("cell-blank", "a", Where(SAMPLERS, 3, "lot"), severity=Severity.STOP)
    same = flag("id-characters", "b", Where(SAMPLERS, 9, "lot"), severity=Severity.NOTE)
    whole = flag("rows-passed-over", "c", Where(SAMPLERS), severity=Severity.NOTE)
    other = flag("id-characters", "d", Where(SAMPLERS, 9, "label"), severity=Severity.NOTE)
    assert telling_notes(in_order([stop, same, whole, other])) == (same, whole)
