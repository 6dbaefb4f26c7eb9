"""A survey typed once, with defaults and derived values, is the survey that was typed in full."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from functools import cache
from typing import Any

import pytest
from builders import changed, load, removed, setting, settings_added, survey_findings, table
from typed_once import (
    ASKED,
    BAGS,
    CUSTODY,
    EXCEPTIONS,
    PLACED,
    ROSTER,
    SAMPLERS,
    full,
    short,
    typed_cells,
)

from sitegen.checking import check_snapshot
from sitegen.compute.evaluate import evaluate
from sitegen.pipeline import compose
from sitegen.project.folder import Folder
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.pages import Cell, Facts, Page, Report, Table

BEFORE, AFTER = 1_346, 459
"""Cells that a person types for 24 points, positions included, which an instrument may give."""

_DIGEST = re.compile(r"\b[0-9a-f]{8}\b|\b[0-9a-f]{64}\b")
_RULE = re.compile(r" \(default of project\.toml, line \d+\)")
_EVENTS = re.compile(r"\d+ custody events")
_ABOUT_FILES = {"sources", "files", "downloads"}
"""Pages that list files and rows: they tell origins and nothing else."""


@cache
def reports() -> tuple[Report, Report]:
    """Return the report of the survey in full, and of the same typed once."""
    return compose(check_snapshot(full()))[1], compose(check_snapshot(short()))[1]


def bare(value: Any) -> Any:  # noqa: ANN401 - a record of any kind
    """Return a record without what it says of origins: rows, digests, and what was filled or derived."""
    if isinstance(value, str):
        return _RULE.sub("", _EVENTS.sub("custody events", _DIGEST.sub("#", value)))
    if isinstance(value, Cell):
        value = value._replace(origin=None)
    if isinstance(value, Facts):
        value = replace(
            value, rows=tuple(row for row in value.rows if not row[0].startswith("Defaults and derived values"))
        )
    if isinstance(value, Table):
        kept = [at for at, column in enumerate(value.columns) if column.key != "evidence"]
        rows = tuple(tuple(row[at] for at in kept) for row in value.rows)
        value = replace(value, columns=tuple(value.columns[at] for at in kept), rows=rows, sources=())
    if isinstance(value, tuple):
        parts = [bare(part) for part in value if not _tells_origins(part)]
        return type(value)(*parts) if hasattr(value, "_fields") else tuple(parts)
    if is_dataclass(value) and not isinstance(value, type):
        told = {f.name: bare(getattr(value, f.name)) for f in fields(value) if f.name not in ("reads", "sources")}
        return type(value).__name__, told
    return {bare(key): bare(inner) for key, inner in value.items()} if isinstance(value, Mapping) else value


def _tells_origins(part: object) -> bool:
    """Tell whether a block says nothing but what was filled or derived."""
    if isinstance(part, Facts):
        return all(label.startswith("Defaults and derived values") for label, _ in part.rows)
    return isinstance(part, Table) and part.id == "custody-derived"


def by_name(report: Report) -> dict[str, ExportTable]:
    return {one.name: one for one in report.exports}


def pages(report: Report) -> dict[tuple[str, str], Page]:
    kept = (page for page in report.pages if page.ref.kind != "source" and page.ref.id not in _ABOUT_FILES)
    return {(page.ref.kind, page.ref.id): page for page in kept}


def test_the_tables_are_equal() -> None:
    """Every table has the same typed cells; where a row stands is its own, and custody.csv lacks what others say."""
    typed, once = load(full()), load(short())
    for name in typed.tables:
        if name != "custody":
            one, other = (survey.frame(name).drop(columns=["_row"]) for survey in (typed, once))
            assert one.equals(other), name
    said = typed.frame("custody")
    assert list(once.frame("custody")["at_utc"]) == list(said[~said["event_id"].str.startswith("F-")]["at_utc"])


def test_the_chains_of_custody_are_equal() -> None:
    """Who held what from when to when is the same, word for word."""
    one, other = (evaluate(load(folder)).custody for folder in (full(), short()))
    for kind in ("samplers", "bags", "shipments"):
        typed, once = getattr(one, kind), getattr(other, kind)
        assert {name: [span[:5] for span in chain.spans] for name, chain in typed.items()} == {
            name: [span[:5] for span in chain.spans] for name, chain in once.items()
        }


def test_the_findings_are_equal() -> None:
    """The checks say the same of both, and nothing stops either."""
    assert [f.key for f in survey_findings(full())] == [f.key for f in survey_findings(short())]


@pytest.mark.long
def test_the_pages_are_equal_origins_aside() -> None:
    """Each page says the same, drawings included; the rows and rules that it names are its own."""
    typed, once = (pages(report) for report in reports())
    assert list(typed) == list(once)
    assert len(typed) > 100
    assert [name for name in typed if bare(typed[name]) != bare(once[name])] == []


@pytest.mark.long
def test_the_downloads_are_equal_origins_aside() -> None:
    """Data files have the same rows; what was filled and derived has files of its own beside them."""
    typed, once = (by_name(report) for report in reports())
    assert set(once) - set(typed) == {"filled_cells", "derived_events"}
    same = set(typed) - {"columns", "custody_events"}
    assert [name for name in sorted(same) if bare(typed[name].rows) != bare(once[name].rows)] == []


def test_a_finding_about_a_filled_cell_names_its_rule() -> None:
    """The file has nothing there to correct: the finding leads to the line of the default."""
    found = [f.found for f in survey_findings(short()) if f.code == "sleeve-missing"]
    assert found
    words = r"unsleeved hole through paving \(default of project\.toml, line \d+\)"
    assert all(re.fullmatch(words, one) for one in found)
    assert not [f for f in survey_findings(full()) if _RULE.search(f.found)]


def test_a_third_is_typed() -> None:
    """The count of typed cells is what it was when it was counted: 1,346 before, 459 after."""
    assert sum(typed_cells(full()).values()) == BEFORE
    assert sum(typed_cells(short()).values()) == AFTER


@pytest.mark.long
def test_each_filled_cell_is_told_with_its_rule() -> None:
    """The download of filled cells has each cell that the short survey lacks, and says by which rule."""
    rows = by_name(reports()[1])["filled_cells"].rows
    cells = {(row[0], row[1], row[2]): (row[3], row[4]) for row in rows}
    assert cells["deployments", "0047130", "closure"][0] == "foil_and_soil"
    assert re.fullmatch(r"default of project\.toml, line \d+", cells["deployments", "0047130", "closure"][1])
    assert cells["samplers", "0047163", "kind"] == (
        "trip_blank",
        "derived: field/return_bags.csv, row 2, lists it as the trip blank",
    )
    assert cells["samplers", "0047130", "sampler_id"][1] == "one of the serials 0047130-0047154"
    assert ("deployments", "0047140", "closure") not in cells


@pytest.mark.long
def test_a_public_report_withholds_what_was_filled_as_what_was_typed() -> None:
    """Roles have no codes there, be they typed or defaults; the rules stay."""
    shown = setting('level = "internal"', 'level = "public"')
    report = compose(check_snapshot(changed(shown, folder=short())))[1]
    filled = by_name(report)["filled_cells"]
    crew = {row[filled.at("value")] for row in filled.rows if row[filled.at("column")] == "placed_by"}
    assert len(crew) == 1
    assert not crew & {"FS-1", ""}
    assert "FS-1" not in repr(report.pages)


@pytest.mark.long
def test_pages_tell_what_was_not_typed() -> None:
    """The page of a point, of a sampler and of a bag name the columns and the rules."""
    once = pages(reports()[1])
    point = repr(once["location", "SG-01"])
    assert "Defaults and derived values, field/deployments.csv" in point
    assert "defaults of project.toml: tz (line " in point
    assert "kind (derived: field/deployments.csv, row 2, records it as a primary sampler)" in repr(
        once["sampler", "0047130"]
    )
    assert "shipment_id (derived: field/shipments.csv, row 3, is the only return shipment recorded)" in repr(
        once["bag", "RB-2"]
    )
    assert "Defaults and derived values" not in repr(pages(reports()[0]))


@pytest.mark.long
def test_the_page_of_sources_tells_the_rules_with_their_cells() -> None:
    """Each rule stands there once with how many cells it filled; a range of serials stands as its one row."""
    report = reports()[1]
    sources = next(page for page in report.pages if page.ref.id == "sources")
    assert "derived: field/deployments.csv records it as a primary sampler" in repr(sources)
    received = next(page for page in report.pages if page.ref == rows_page("file-samplers"))
    rows = next(block for block in received.blocks if isinstance(block, Table)).rows
    assert [row[0].text for row in rows] == ["2", "3", "4"]


def rows_page(name: str) -> Any:  # noqa: ANN401
    """Return the pointer to a page of rows as received."""
    return next(page.ref for page in reports()[1].pages if page.ref.kind == "source" and page.ref.id == name)


@pytest.mark.long
def test_derived_events_are_told_as_derived_and_counted() -> None:
    """The table of counts, the events of a sampler and the download say which events nobody typed in custody.csv."""
    report = reports()[1]
    told = pages(report)
    events = by_name(report)["derived_events"]
    placed = [row for row in events.rows if row[events.at("event")] == "placed"]
    assert len(placed) == len(SAMPLERS)
    assert placed[0][events.at("rule")] == "derived from field/deployments.csv, row 2"
    assert "text='derived from field/deployments.csv, row 2'" in repr(told["sampler", "0047130"])
    assert {row[events.at("source_file")] for row in events.rows} == {PLACED, BAGS, "lab/lab_samples.csv"}
    assert "derived from field/custody.csv" not in repr(report.pages)
    assert "text='field/custody.csv, row 2'" in repr(told["shipment", "SH-O1"])
    counted = {(row[0].text, row[1].text): row[2].text for row in _counts(told["page", "custody"]).rows}
    assert counted["field/custody.csv", "recorded, all kinds"] == "10"
    assert counted["field/deployments.csv", "derived: retrieved"] == str(len(SAMPLERS))


def _counts(block: Any) -> Table:  # noqa: ANN401
    """Return the table that counts derived events, wherever it stands."""
    if isinstance(block, Table) and block.id == "custody-derived":
        return block
    for inner in getattr(block, "blocks", ()):
        found = _counts(inner)
        if found:
            return found
    return None  # type: ignore[return-value]


def test_a_derived_event_is_no_signature_and_no_hand_over() -> None:
    """Events that custody.csv lacks carry no signature, no seal and no receiver, and count as no hand-over."""
    nothing = table(CUSTODY, lambda _: [])
    survey = load(changed(nothing, folder=short()))
    held = evaluate(survey).custody
    chains = (*held.samplers.values(), *held.bags.values(), *held.shipments.values())
    events = [event for chain in chains for event in chain.events]
    assert events
    assert {(event.signature, event.seal_number, event.to, event.event_id) for event in events} == {("", "", "", "")}
    assert {chain.hand_overs for chain in chains} == {0}


def test_custody_is_no_stronger_for_what_is_derived() -> None:
    """With or without the wish to derive, the chains are the same, so no conclusion is."""
    silent = short(ASKED.replace("custody = true", "custody = false"))
    assert evaluate(load(silent)).custody == evaluate(load(short())).custody


def test_an_absent_custody_file_is_told_as_before() -> None:
    """To derive events is no record of hand-overs: without custody.csv the build stops."""
    codes = [(f.code, f.subject) for f in survey_findings(changed(removed(CUSTODY), folder=short()))]
    assert ("file-missing", CUSTODY) in codes


@pytest.mark.parametrize(
    ("path", "key", "gone"),
    [(BAGS, "bag_id", ("0047163", "kind")), (PLACED, "sampler_id", ("0047130", "outcome"))],
    ids=["bag", "placement"],
)
def test_a_value_goes_with_the_row_that_it_follows_from(path: str, key: str, gone: tuple[str, str]) -> None:
    """Without the row that said it, a derived cell is blank again."""
    name, column = gone
    without = changed(table(path, lambda rows: [row for row in rows if row[key] not in ("RB-2", name)]), folder=short())
    for folder, there in ((short(), True), (without, False)):
        frame = load(folder).frame("samplers").set_index("sampler_id")
        assert bool(frame.at[name, column]) is there


def test_exceptions_stay_as_they_are_typed() -> None:
    """A filled cell goes before every default, and NA is an answer."""
    frame = load(short()).frame("deployments").set_index("sampler_id")
    assert frame.at["0047140", "closure"] == EXCEPTIONS["0047140"]["closure"]
    assert frame.at["0047141", "closure"] == ""
    assert frame.at["0047133", "depth_ft"] == 2.4


def test_nothing_is_filled_unless_it_is_asked_for() -> None:
    """A folder without defaults and derive is read as its files have it."""
    survey: Folder = full()
    assert all(not one.filled for one in load(survey).tables.values())
    typed = load(changed(settings_added(ASKED), folder=survey))
    assert all(not one.filled for one in typed.tables.values())


def test_a_range_stands_for_its_samplers() -> None:
    """Three rows of samplers.csv are 27 samplers, each of which stands in the row of its range."""
    table_read = load(short()).tables["samplers"]
    assert len(table_read.frame) == len(SAMPLERS) + 2
    assert list(table_read.frame["_row"]) == [2] * len(SAMPLERS) + [3, 4]
    assert set(table_read.received["sampler_id"][: len(SAMPLERS)]) == {f"{SAMPLERS[0]}-{SAMPLERS[-1]}"}
    assert typed_cells(short())[ROSTER] == 8
