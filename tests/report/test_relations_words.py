"""The page on relations writes out what was computed: relations by hand, with the example's names and points."""

from __future__ import annotations

from itertools import combinations

import pytest
from builders import changed, load

from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.quality.locallow import LocalLow, LowCompound, Lows
from sitegen.compute.results.relate import FlowPath, Related
from sitegen.compute.results.relations import Along, Makeup, Relation, Share
from sitegen.compute.results.totals import DetectedSum
from sitegen.compute.statistics.rank import Correlation
from sitegen.report.record.pages import Figure, Ref, Table
from sitegen.report.results.relations import (
    correlation_table,
    ethenes_table,
    flow_figure,
    fuels_table,
    low_table,
    relations_page,
    sums_table,
)
from sitegen.report.write.context import Context

ETHENES = Relation(
    ("pce", "tce"),
    (
        Makeup("SG-01", ((30.0, 30.0), (0.0, 10.0)), (Share(75.0, 100.0), Share(0.0, 25.0)), (True, False),
               Share(3.75, 4.0), Share(10.0, 20.0)),
        Makeup("SG-02", ((10.0, 10.0), (30.0, 30.0)), (Share(25.0, 25.0), Share(75.0, 75.0)), (True, True),
               Share(3.25, 3.25)),
    ),
)  # fmt: skip
FUELS = Relation(
    ("benzene", "toluene"),
    (Makeup("SG-03", ((1.0, 1.0), (4.0, 4.0)), (Share(20.0, 20.0), Share(80.0, 80.0)), (True, True)),),
)
FLOW = FlowPath(
    "Way of the water", True, 90.0, (Along("SG-02", 10.2, 3.4), Along("SG-03", 40.0, 1.0), Along("SG-01", 60.7, 0.6))
)
SHORT = FlowPath("Ditch", True, 20.0, (Along("SG-03", 5.0, 1.0), Along("SG-01", 8.0, 1.0)))
TAUS = tuple(
    Correlation(first, second, 20, tau)
    for first, second, tau in (("pce", "tce", 0.8), ("pce", "benzene", -0.256), ("tce", "benzene", 0.0))
)
LOW = LocalLow(
    "SG-03", "0047104", ("SG-01", "SG-02", "SG-04"),
    (LowCompound("pce", 25.0, detected=False, lowest_neighbour_ng=1500.0),
     LowCompound("tce", 12.0, detected=True, lowest_neighbour_ng=900.0)), marked=False,
)  # fmt: skip


@pytest.fixture(scope="module")
def context() -> Context:
    survey = load(changed())
    evaluation = evaluate(survey)
    by_hand = {
        "related": Related(ETHENES, FUELS, (SHORT, FLOW), TAUS),
        "lows": Lows(37, (LOW,)),
        "local_lows": (LOW,),
        "sums": {
            "SG-02": DetectedSum(1234.0, 3, 2, 22),
            "SG-01": DetectedSum(0.0, 0, 0, 21),
            "IA-01": DetectedSum(50.0, 1, 0, 22),
        },
        "soil_sum": DetectedSum(1234.0, 3, 2, 43),
    }
    assert by_hand.keys() <= vars(Evaluation).keys()
    vars(evaluation).update(by_hand)
    return Context(survey, evaluation, ())


def texts(table: Table) -> list[list[str]]:
    return [[cell.text for cell in row] for row in table.rows]


def test_shares_stand_under_their_compound_with_their_bounds(context: Context) -> None:
    """Each share under its own compound, one figure where the bounds agree; a non-detect in its tone."""
    table = ethenes_table(context)
    assert [column.title for column in table.columns[1:3]] == ["Tetrachloroethene", "Trichloroethene"]
    assert texts(table) == [
        ["SG-01", "75 to 100", "0 to 25", "3.8 to 4.0", "10 to 20"],
        ["SG-02", "25", "75", "3.3", "–"],
    ]
    assert [cell.tone for cell in table.rows[0][1:3]] == ["", "nondetect"]
    assert [cell.tone for cell in table.rows[1][1:3]] == ["", ""]
    assert texts(fuels_table(context)) == [["SG-03", "20", "80"]]


def test_a_flow_line_tells_its_first_and_last_point_with_a_detection(context: Context) -> None:
    """SG-02 lies 10 m along and 3 m off, SG-01 61 m along and 1 m off; SG-03 holds no ethene and is left out."""
    figure = flow_figure(context, FLOW)
    assert isinstance(figure, Figure)
    assert figure.description == (
        "2 points with a detection are within 15 m of the line. At SG-02, 10 m along the line, Tetrachloroethene "
        "makes up 25 %; at SG-01, 61 m along the line, 75 to 100 %."
    )
    assert figure.id == "flow-2", "the second line of the project"
    assert figure.table is not None
    assert texts(figure.table) == [["SG-02", "10", "3", "25", "75"], ["SG-01", "61", "1", "75 to 100", "0 to 25"]]
    assert figure.table.id == "flow-table-2"


def test_one_point_makes_no_way(context: Context) -> None:
    """Of the two points beside the ditch one alone holds an ethene: nothing is drawn along it."""
    assert flow_figure(context, SHORT) is None


def test_each_correlation_stands_once_below_the_diagonal(context: Context) -> None:
    """Rows from the second compound on, columns to the last but one; a minus sign, two decimals, 0 is a figure."""
    table = correlation_table(context)
    assert [column.title for column in table.columns] == ["Compound", "Tetrachloroethene", "Trichloroethene"]
    assert texts(table) == [["Trichloroethene", "0.80", ""], ["Benzene", "−0.26", "0.00"]]
    assert table.rows[1][0].ref == Ref("compound", "benzene")
    assert not table.landscape


def test_a_pair_without_a_figure_takes_none_from_the_others(context: Context) -> None:
    """Where the first two compounds have too few points in common, each still has its figure with the third."""
    part = evaluate(context.survey)
    vars(part)["related"] = Related(ETHENES, FUELS, (), TAUS[1:])
    table = correlation_table(Context(context.survey, part, ()))
    assert texts(table) == [["Trichloroethene", "", ""], ["Benzene", "−0.26", "0.00"]]


@pytest.mark.parametrize(("compounds", "landscape"), [(10, False), (11, True)])
def test_a_wide_table_of_correlations_lies_on_its_side(context: Context, compounds: int, landscape: bool) -> None:
    """Beside the first column stand all compounds but the last; more than ten columns need the wider page."""
    names = [compound.analyte_id for compound in context.evaluation.compounds[:compounds]]
    taus = tuple(Correlation(first, second, 20, 0.5) for first, second in combinations(names, 2))
    wide = evaluate(context.survey)
    vars(wide)["related"] = Related(ETHENES, FUELS, (), taus)
    table = correlation_table(Context(context.survey, wide, ()))
    assert (len(table.columns), table.landscape) == (compounds, landscape)


def test_a_low_point_stands_beside_the_lowest_of_its_neighbours(context: Context) -> None:
    """A row for each compound: below 25 where 1,500 is the least around it, 12 where it is 900."""
    table = low_table(context)
    neighbours = "SG-01, SG-02, SG-04"
    assert texts(table) == [
        ["SG-03", "Tetrachloroethene", "<25", "1,500", neighbours],
        ["SG-03", "Trichloroethene", "12", "900", neighbours],
    ]
    assert "Compared: 37 of 51 soil points with results." in table.note


def test_sums_say_how_many_compounds_they_add(context: Context) -> None:
    """1,234 ng in 3 of 22, two of them touched by a blank; nothing detected is no sum of 0; air has no row."""
    table = sums_table(context)
    assert texts(table) == [["SG-02", "1,230", "3 of 22", "2"], ["SG-01", "none", "0 of 21", "0"]]
    assert "Over all soil points: 1,230 ng per sampler in 3 of 43 results detected, 2 of them affected" in table.note


def test_the_page_counts_the_points_of_each_family(context: Context) -> None:
    """Two points with ethenes, one with fuels."""
    lead = relations_page(context).lead
    assert "chlorinated ethenes are compared at 2 points; fuel aromatics are compared at 1 point." in lead
