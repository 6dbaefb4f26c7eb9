"""Custody on the pages: what is known of a gap, holds on the page of what they concern, states with their shapes."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from sitegen.checks.catalogue import catalogue
from sitegen.compute.custody.walk import STATES, UNRECORDED
from sitegen.figures.look import CUSTODY_STYLES
from sitegen.pipeline import Built
from sitegen.report.record.pages import Block, Callout, Chapter, Figure, Page, Prose, Section, Table
from sitegen.report.trace.printed import tables_in
from sitegen.report.write.words import lexicon

RB_2_SEAL = "bag RB-2 sealed on 6 November 2025, 16:08 with 448216, read unchanged at receipt, condition intact"


def page_of(built: Built, kind: str, name: str) -> Page:
    return next(page for page in built.report.pages if (page.ref.kind, page.ref.id) == (kind, name))


def known(built: Built, kind: str, name: str) -> dict[str, list[str]]:
    """Return what a page tells against its subject, by finding."""
    tables = {table.id: table for table in tables_in(page_of(built, kind, name).blocks)}
    table = tables.get(f"known-{name}")
    return {row[1].ref.id: [cell.text for cell in row] for row in table.rows if row[1].ref} if table else {}


def all_blocks(blocks: Iterable[Block]) -> Iterable[Block]:
    for block in blocks:
        yield block
        if isinstance(block, Section):
            yield from all_blocks(block.blocks)


@pytest.mark.parametrize(("kind", "name"), [("bag", "RB-2"), ("shipment", "SH-R1"), ("sampler", "0047154")])
def test_with_a_gap_the_page_says_what_is_known_of_the_seal(built: Built, kind: str, name: str) -> None:
    """Sealed when and with what, number unchanged at receipt, condition: on every page that the gap concerns."""
    severity, said, about, touched = known(built, kind, name)["custody-gap:RB-2+29374520"]
    told = "no custodian recorded for 2 h 10 min between FS-1 and PM-1, in transit from 6 November 2025, 17:20"
    assert said.startswith(told)
    assert RB_2_SEAL in said
    assert (severity, about, touched) == ("flag", "bag RB-2", "30")


@pytest.mark.parametrize(("kind", "name"), [("bag", "RB-1"), ("shipment", "SH-R1"), ("sampler", "0047102")])
def test_a_page_carries_its_holds(built: Built, kind: str, name: str) -> None:
    """RB-1's seal holds the issue: told on the bag, on its shipment and on each sampler in it, with the condition."""
    severity, said, *_ = known(built, kind, name)["seal-differs:RB-1"]
    assert severity == "hold"
    assert "condition intact" in said


def test_a_page_tells_no_finding_of_another_bag(built: Built) -> None:
    """RB-2's gap is not on RB-1, nor RB-1's seal on a sampler of RB-2; a role change is told on its bag alone."""
    assert set(known(built, "bag", "RB-1")) == {
        "seal-differs:RB-1", "hand-over-unsigned:E-0024", "holder-changed:RB-1+FS-2+FS-1", "seal-late:RB-1",
    }  # fmt: skip
    assert set(known(built, "sampler", "0047154")) == {"custody-gap:RB-2+29374520"}
    assert set(known(built, "shipment", "SH-O1")) >= {"holder-changed:SH-O1+FS-1+FS-2"}


def test_the_custody_page_lists_every_finding_on_custody(built: Built) -> None:
    """Each by its key, so that a new kind of custody finding can't be left off the page."""
    (trouble,) = (t for t in tables_in(page_of(built, "page", "custody").blocks) if t.id == "custody-trouble")
    listed = {row[1].ref.id for row in trouble.rows if row[1].ref}
    assert listed >= {"custody-gap:RB-2+29374520", "seal-late:RB-1", "holder-changed:RB-2+FS-2+FS-1"}
    assert listed == {f.key for f in built.findings if catalogue()[f.code].subject == "custody"}


def test_a_sampler_s_table_is_its_shipment_s_while_it_is_in_it(built: Built) -> None:
    """The rows of SH-R1's page are rows of the page of every sampler that came back in it."""

    def held(kind: str, name: str) -> list[tuple[str, ...]]:
        tables = {table.id: table for table in tables_in(page_of(built, kind, name).blocks)}
        return [tuple(cell.text for cell in row) for row in tables[f"held-{name}"].rows]

    box = held("shipment", "SH-R1")
    assert len(box) == 2
    for sampler in ("0047101", "0047102", "0047154", "0047163"):
        assert [row for row in held("sampler", sampler) if row in box] == box


def test_every_state_has_a_style_of_its_own() -> None:
    """Colour and pattern together differ, and the state without a holder is drawn open, with a dashed edge."""
    assert set(CUSTODY_STYLES) == set(STATES)
    assert len(set(CUSTODY_STYLES.values())) == len(STATES)
    assert CUSTODY_STYLES[UNRECORDED] == ("#ffffff", "open")


def test_the_legend_of_a_line_with_a_gap_names_the_state(built: Built) -> None:
    """On the bag's page, on a location's page and on the page of all samplers."""
    for kind, name, figure in (
        ("bag", "RB-2", "bag-RB-2"), ("location", "SG-37", "chain-0047154"), ("page", "custody", "custody-survey"),
    ):  # fmt: skip
        drawn = [b for b in all_blocks(page_of(built, kind, name).blocks) if isinstance(b, Figure) and b.id == figure]
        assert f">{UNRECORDED}<" in drawn[0].svg


def test_a_change_without_a_transfer_is_on_the_line_and_in_its_words(built: Built) -> None:
    """One sampler was retrieved by FS-2 and bagged by FS-1; the other has a transfer at each change."""

    def line_of(name: str) -> Figure:
        blocks = all_blocks(page_of(built, "sampler", name).blocks)
        return next(b for b in blocks if isinstance(b, Figure) and b.id == f"chain-{name}")

    said = "without a recorded transfer (triangle): FS-2 to FS-1, first on record with the latter on"
    with_change, without = line_of("0047103"), line_of("0047105")
    assert f"{said} 5 November 2025, 16:09." in with_change.description
    assert "change of custodian without a recorded transfer" in with_change.svg
    assert "custodian without" not in without.description + without.svg
    survey = next(
        b for b in all_blocks(page_of(built, "page", "custody").blocks) if isinstance(b, Figure) and b.table is not None
    )
    changed = [row[-1].text for row in survey.table.rows if row[-1].text != "–"] if survey.table else []
    assert f"without a recorded transfer, on {len(changed)} lines." in survey.description
    assert set(changed) == {"1"}


def test_the_mark_of_a_gap_says_what_is_known() -> None:
    """The sentence behind the chip has room for the seal's record."""
    assert "{known}" in lexicon("marks")["custody-gap"]["reason"]


def test_the_mark_of_a_gap_on_a_location_s_page(built: Built) -> None:
    """SG-37's sampler was in RB-2."""
    boxes = [b.markdown for b in page_of(built, "location", "SG-37").blocks if isinstance(b, Callout)]
    (remarks,) = (text.replace("\\", "") for text in boxes if text.startswith("* **water"))
    assert "In transit, custody not recorded for 2 h 10 min (bag RB-2, FS-1 → PM-1); bag RB-2 sealed" in remarks


@pytest.mark.parametrize(("point", "told"), [("SG-37", True), ("SG-10", True), ("SG-36", False)])
def test_a_local_low_stands_on_its_point_s_page_with_its_finding(built: Built, point: str, told: bool) -> None:
    """With the compounds, the nearest points and a link; not on the page of a neighbour."""
    boxes = [b for b in page_of(built, "location", point).blocks if isinstance(b, Callout)]
    linked = [ref.ref.id for box in boxes for ref in box.refs if ref.ref]
    assert (f"local-low:{point}" in linked) == told
    sheet = next(
        block
        for chapter in built.report.chapters
        if isinstance(chapter, Chapter) and chapter.id == "sheets"
        for block in chapter.blocks
        if isinstance(block, Section) and block.title == point
    )
    assert (
        any("lowest of the nearest points without a sample-specific qualification" in str(b) for b in sheet.blocks)
        == told
    )


def test_a_compound_s_page_links_its_share_of_blanks_and_its_low_points(built: Built) -> None:
    """Toluene for its blanks, tetrachloroethene for three low points; benzene for neither."""

    def linked(analyte: str) -> set[str]:
        boxes = [b for b in page_of(built, "compound", analyte).blocks if isinstance(b, Callout)]
        return {ref.ref.id for box in boxes for ref in box.refs if ref.ref}

    assert "blank-affected-mostly:toluene" in linked("toluene")
    assert linked("pce") >= {"local-low:SG-10", "local-low:SG-29", "local-low:SG-37"}
    assert not [key for key in linked("benzene") if key.startswith(("local-low", "blank-affected"))]


def test_how_custody_is_told_says_that_giving_is_not_taking(built: Built) -> None:
    """On the site and in print, with the source of what held means."""
    for blocks in (
        page_of(built, "page", "custody").blocks,
        next(chapter for chapter in built.report.chapters if chapter.id == "custody").blocks,
    ):
        (how,) = (block for block in blocks if isinstance(block, Prose))
        assert "in transit, custody not recorded" in how.markdown
        assert "905R78115" in how.markdown


def test_tables_of_findings_count_no_samplers_where_none_are_named(built: Built) -> None:
    """A role change of 16 samplers has no list of them: a dash, never a nought."""
    (trouble,) = (t for t in tables_in(page_of(built, "page", "custody").blocks) if t.id == "custody-trouble")
    assert isinstance(trouble, Table)
    assert "0" not in {row[3].text for row in trouble.rows}
