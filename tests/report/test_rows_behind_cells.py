"""A cell leads to the cell of the file that it was read from, and a page has the rows that are its own, in order."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from builders import EXAMPLE, changed, load, rows_of

from sitegen.compute.evaluate import evaluate
from sitegen.report.field.custodypages import bag_pages, shipment_pages
from sitegen.report.field.positions import positions_table
from sitegen.report.points.results import headline
from sitegen.report.quality.labcontrol import controls_table, surrogates_table
from sitegen.report.record.pages import Cell, Page, Section, Table
from sitegen.report.write.context import Context


@pytest.fixture(scope="module")
def context() -> Context:
    survey = load(changed())
    return Context(survey, evaluate(survey), ())


def received(file: str) -> list[dict[str, str]]:
    return rows_of((EXAMPLE / file).read_bytes())[1]


def text_behind(cell: Cell) -> str:
    """Return what the file has at the place that a cell leads to; row 1 is the header."""
    assert cell.origin is not None
    file, row, column = cell.origin
    return received(file)[row - 2][column]


@pytest.mark.parametrize(("table", "least"), [(positions_table, 100), (surrogates_table, 1), (controls_table, 10)])
def test_a_number_stands_at_the_place_that_it_leads_to(
    context: Context, table: Callable[[Context], Table], least: int
) -> None:
    """File, row and column of the cell have the number that is printed."""
    leading = [cell for row in table(context).rows for cell in row if cell.origin]
    assert len(leading) >= least
    assert [float(text_behind(cell)) for cell in leading] == [float(cell.text.split()[0]) for cell in leading]


def table_of(page: Page, section: str) -> Table:
    (table,) = next(block.blocks for block in page.blocks if isinstance(block, Section) and block.id == section)
    assert isinstance(table, Table)
    return table


def test_a_shipment_lists_the_bags_and_samplers_that_name_it(context: Context) -> None:
    """Every thing whose row names the shipment, bags first, and no other."""
    bags, samplers = received("field/return_bags.csv"), received("field/samplers.csv")
    things = [(row["shipment_id"], row["bag_id"]) for row in bags]
    things += [(row["shipment_id"], row["sampler_id"]) for row in samplers]
    pages = {p.ref.id: [row[0].text for row in table_of(p, "inside").rows] for p in shipment_pages(context)}
    assert pages == {name: [thing for where, thing in things if where == name] for name in pages}
    assert sum(map(len, pages.values())) > 50


def test_a_bag_lists_the_results_that_its_trip_blank_touches(context: Context) -> None:
    """Each result once, by the row that it leads to, and none that another bag's blank touches."""
    hits = [hit for hit in context.evaluation.blank_hits if hit.kind == "trip_blank"]
    for page in bag_pages(context):
        refs = [row[2].ref for row in table_of(page, "touched").rows]
        listed = {(ref.id, ref.anchor) for ref in refs if ref}
        assert listed == {key for hit in hits if hit.group == page.ref.id for key in hit.touched}
        assert len(listed) == len(refs) > 0


def test_a_point_s_sentence_names_its_highest_masses(context: Context) -> None:
    """Highest first, by the values that the laboratory's file has for the sampler at the point."""
    runs = [row for row in received("lab/lab_samples.csv") if row["reportable"] != "no"]
    samples = {row["sampler_id"]: row["lab_sample_id"] for row in runs}
    for name in ("SG-46", "SS-01", "SG-17"):
        placed = context.primary_at(name)
        assert placed is not None
        own = [
            r for r in received("lab/results.csv") if r["lab_sample_id"] == samples[placed.sampler_id] and r["value"]
        ]
        highest = sorted(own, key=lambda row: -float(row["value"]))[:3]
        tops = str(headline(context, context.by_location[name])["top"]).split("; ")
        assert len(tops) == 3
        for top, row in zip(tops, highest, strict=True):
            assert top.startswith(f"{context.name(row['analyte_id'])} ")
