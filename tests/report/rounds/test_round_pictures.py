"""Pictures of a compound over the rounds: counts that agree, one scale, and nothing where there is one round."""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace
from functools import cache
from xml.etree import ElementTree as ET

import pytest
from builders import cell, changed, example, load
from rounds_survey import NEW, edited, read, table, two_rounds

from sitegen.compute.evaluate import evaluate
from sitegen.compute.rounds.campaigns import Campaign
from sitegen.compute.rounds.changes import RoundChange
from sitegen.compute.rounds.records import REASONS
from sitegen.compute.rounds.split import parts
from sitegen.compute.statistics.classes import size_class
from sitegen.figures.changesigns import CHANGE_WORDS
from sitegen.figures.ground import Ground
from sitegen.figures.look import CLASS_COLOURS, CLASS_RADII_PX
from sitegen.project.folder import Folder, InputFile
from sitegen.project.schema import SOIL_MEDIA
from sitegen.report.assemble import context_of
from sitegen.report.record.pages import Figure, Section, Table
from sitegen.report.results.compound import compound_pages
from sitegen.report.results.mapdata import ground
from sitegen.report.rounds.mapviews import round_map_data
from sitegen.report.rounds.pictures import (
    change_figures,
    heat_block,
    multiples_figure,
    round_section,
    with_round_pictures,
)
from sitegen.report.rounds.placing import ground_with, points_in
from sitegen.report.write.context import Context
from sitegen.report.write.words import lexicon

RESULTS = "lab/results.csv"
HOSTILE = "<b>&\"'</svg>{{ x }}"


def of(folder: Folder) -> Context:
    """Return the context of a folder's last round."""
    survey = load(folder)
    return context_of(survey, parts(survey), ())


@cache
def both() -> Context:
    """Return the second of the two made-up rounds, with the first before it."""
    return of(two_rounds())


@cache
def site() -> Ground:
    """Return the ground of the second round."""
    drawn = ground(both())
    assert drawn is not None
    return drawn


def again(one: Context, name: str, *earlier: Context) -> Context:
    """Return a round once more, as another one."""
    return Context(one.survey, one.evaluation, (), Campaign(name, name), earlier)


def with_masses(**masses: str) -> Context:
    """Return the two rounds with other masses of tetrachloroethene in the second, by point with _ for -."""
    folder = two_rounds()
    at = {row["sampler_id"]: row["location_id"] for row in read(folder, "field/deployments.csv")}
    runs = {
        row["lab_sample_id"]: at.get(row["sampler_id"], "")
        for row in read(folder, "lab/lab_samples.csv")
        if row["lab_sample_id"].startswith("2-")
    }

    def change(content: bytes) -> bytes:
        del content
        rows = read(folder, RESULTS)
        for row in rows:
            mass = masses.get(runs.get(row["lab_sample_id"], "").replace("-", "_"))
            if row["analyte_id"] == "pce" and mass:
                row |= {"result_text": mass, "value": mass, "detected": "yes", "lab_qualifier": ""}
        return table(rows)

    return of(edited(RESULTS, change))


def change_figure(context: Context, analyte_id: str = "pce") -> Figure:
    """Return the change map of a compound from the round before."""
    (found,) = change_figures(context, context.changes[-1], context.compounds[analyte_id], site())
    assert isinstance(found, Figure)
    return found


def kinds_in(alt: str) -> dict[str, int]:
    """Return the counts that an alternative text names."""
    return {words: int(found[1]) for words in CHANGE_WORDS.values() if (found := re.search(rf"(\d+) {words}", alt))}


def test_the_alternative_text_counts_every_soil_point() -> None:
    """58 soil points: 51 that both rounds have a result of, the lost one, SG-03 of the first, six of the supplement."""
    figure = change_figure(both())
    found = kinds_in(figure.alt)
    assert "at 58 soil points" in figure.alt
    assert sum(found.values()) == 58
    assert found["sampled in one of the two rounds"] == 1 + len(NEW)
    assert found["not comparable"] == 1


def test_a_mass_that_grew_beyond_the_spread_is_told_by_its_factor() -> None:
    """At SG-12 the first round has 374 ng; with too few pairs the spread is 3 by default, and 3740 is ten times."""
    figure = change_figure(with_masses(SG_12="3740", SG_13="57"))
    rows = {row[0].text: [cell.text for cell in row[1:]] for row in figure.table.rows} if figure.table else {}
    assert rows["SG-12"] == ["374", "3740", "10", "increased", ""]
    assert rows["SG-13"] == ["570", "57", "0.10", "decreased", ""]
    before, found = kinds_in(change_figure(both()).alt), kinds_in(figure.alt)
    for words in ("increased", "decreased"):
        assert found[words] == before.get(words, 0) + 1
    assert re.search(r"Increased at \d+ soil points: [^.]*SG-12", figure.description)
    assert "10 times and above" in figure.svg


def test_the_caption_says_what_the_spread_rests_on() -> None:
    """The default is named as such, with the pairs on record that were too few for another."""
    figure = change_figure(both())
    spread = both().changes[0].spread
    assert spread.rule == "default"
    assert f"{spread.pairs} duplicate pairs on record are too few" in figure.caption
    assert "project default, no published source" in figure.caption
    assert "mass is not a concentration" in figure.caption


def test_marks_and_qualifiers_travel_with_both_masses() -> None:
    """Every result of the data table carries the marks of its own round."""
    context = both()
    data = change_figure(context).table
    assert data is not None
    rows = {row[0].text: row for row in data.rows}
    for location_id, row in rows.items():
        for one, shown in zip(context.rounds, row[1:3], strict=True):
            result = one.at_point.get((location_id, "pce"))
            assert shown.marks == (one.marks(result) if result else ()), location_id
    assert rows["SG-05"][1].text == "5.6 J"


def test_every_reason_has_words() -> None:
    """No code of the computing is printed as it is."""
    assert set(REASONS) <= set(lexicon("labels")["change_reason"])
    assert {*lexicon("labels")["change_kind"]} == {*CHANGE_WORDS}


def test_a_compound_of_one_round_has_no_comparable_point() -> None:
    """Toluene is not on the second round's list: it is among its compounds no more, and has no change map."""
    context = both()
    assert "toluene" not in context.compounds
    first = context.earlier[0].compounds["toluene"]
    (figure,) = change_figures(context, context.changes[0], first, site())
    assert isinstance(figure, Figure)
    assert figure.description.startswith("At none of 58 soil points can the two rounds be compared.")
    assert kinds_in(figure.alt)["not comparable"] == 58 - 1 - len(NEW)


def test_the_same_mass_has_the_same_size_on_the_maps_of_four_rounds() -> None:
    """Each detection is drawn with the radius and the colour of its class of mass, whichever round it is of."""
    one, two = both().rounds
    first, second, third = again(one, "R1"), again(two, "R2"), again(one, "R3")
    context = again(two, "R4", first, second, third)
    figure = multiples_figure(context, context.compounds["pce"], site())
    assert figure is not None
    root = ET.fromstring(figure.svg)  # noqa: S314
    said = [element.text for element in root.iter("{http://www.w3.org/2000/svg}text")]
    assert [name for name in said if name in {"R1", "R2", "R3", "R4"}] == ["R1", "R2", "R3", "R4"]
    masses = [
        row.value
        for each in context.rounds
        for row in each.by_compound["pce"]
        if row.detected and row.medium == "soil_gas" and row.location_id in each.points
    ]
    round_ones = [float(c.attrib["r"]) for c in root.iter("{http://www.w3.org/2000/svg}circle")]
    for found in sorted({size_class(mass) for mass in masses}):
        radius = CLASS_RADII_PX[found] * 0.5 * 0.62
        assert round(radius, 2) in round_ones
    filled = [
        c
        for c in root.iter()
        if c.tag.endswith(("circle", "polygon")) and c.attrib.get("fill") in CLASS_COLOURS and c.attrib.get("stroke")
    ]
    below = [row for each in context.rounds for row in each.by_compound["pce"] if row.medium == "sub_slab"]
    legend = len(max((each.class_labels for each in context.rounds), key=len))
    assert len(filled) == len(masses) + sum(row.detected for row in below) + legend


def test_each_small_map_has_its_dates_and_its_scope() -> None:
    """The first round lay from 23 October to 6 November 2025; of the second the supplement came back last."""
    figure = multiples_figure(both(), both().compounds["pce"], site())
    assert figure is not None
    assert "23 October 2025 to 6 November 2025" in figure.svg
    assert "22 October 2026 to 9 December 2026, with supplement" in figure.svg
    assert "41 of 51 soil points detected" in figure.alt


def shaded(context: Context, analyte_id: str = "pce") -> Table:
    """Return the table of a compound by rounds."""
    found = heat_block(context, context.compounds[analyte_id])
    assert found is not None
    return found


def test_the_shaded_table_has_every_soil_point_of_any_round_once() -> None:
    """SG-03 and the supplement have a dash in the round that did not sample them; a non-detect brings its limit."""
    rows = {row[0].text: row for row in shaded(both()).rows}
    assert len(rows) == len(shaded(both()).rows) == 51 + 6
    assert rows["SG-03"][2].text == rows["SG-61"][1].text == "–"
    assert [cell.text for cell in rows["SG-01"][1:]] == ["<10", "<10"]
    assert [cell.tone for cell in rows["SG-01"][1:]] == ["nondetect", "nondetect"]
    assert "SG-21" not in rows, "lost in both rounds"


def test_a_shade_is_the_class_of_the_mass_in_every_round() -> None:
    """Two cells with masses of one decade have one tone."""
    context = both()
    for row in shaded(context).rows:
        for one, shown in zip(context.rounds, row[1:], strict=True):
            result = one.at_point.get((row[0].text, "pce"))
            if result and result.detected and not result.rejected:
                assert shown.tone == f"class{size_class(result.value)}"


def test_sixty_points_and_four_rounds_make_a_table_of_five_columns() -> None:
    """One column for each round after the point's."""
    one, two = both().rounds
    context = again(two, "R4", again(one, "R1"), again(two, "R2"), again(one, "R3"))
    found = shaded(context)
    assert [column.title for column in found.columns] == ["Point", "R1", "R2", "R3", "R4"]
    assert len(found.rows) == 57


def test_a_round_from_a_folder_of_its_own_leads_to_no_row_here() -> None:
    """Its laboratory samples may have the same names as ours: no number of it leads to one of our rows."""
    one, two = both().rounds
    apart = Context(one.survey, one.evaluation, (), Campaign("R1", "Before", source="earlier.zip"))
    context = Context(two.survey, two.evaluation, (), both().campaign, (apart,))
    for row in shaded(context).rows:
        assert row[1].ref is None
        assert row[1].origin is None
    assert any(row[2].origin for row in shaded(context).rows)


def test_a_detection_that_the_other_round_could_not_have_told_is_drawn_small() -> None:
    """At SG-01 the first round has less than 10 ng; 5 ng in the second is below that limit, 50 at SG-04 is not."""
    figure = change_figure(with_masses(SG_01="5", SG_04="50"))
    assert kinds_in(figure.alt)["newly detected"] == 2
    assert "1 detection in one round only is below the reporting limit of the other" in (figure.description)
    assert "small square, of these" in figure.svg
    assert "small square, of these" not in change_figure(both()).svg
    rows = {row[0].text: row[-1].text for row in figure.table.rows} if figure.table else {}
    words = "below the reporting limit of the other round, or no such limit on record"
    assert (rows["SG-01"], rows["SG-04"]) == (words, "")


def test_a_ring_is_drawn_where_a_result_of_either_round_has_one() -> None:
    """The legend counts the soil points at which the first or the second round's own map draws a ring."""
    context = both()
    change = [one for one in context.changes[0].points if one.analyte_id == "pce"]
    ringed = {
        one.location_id
        for one in change
        for each, row in zip(context.rounds, (one.before, one.after), strict=True)
        if row is not None and row.medium in SOIL_MEDIA and each.has_ring(row)
    }
    assert ringed
    assert re.search(rf"\(ring\): {len(ringed)}<", change_figure(context).svg)


def test_one_id_with_two_cas_numbers_is_two_compounds() -> None:
    """What the first survey called tce by another CAS number is none of the masses of trichloroethene."""
    first = of(changed(cell("lab/analytes.csv", "tce", "cas", "75-01-4")))
    context = Context(both().survey, both().evaluation, (), both().campaign, (first,))
    assert {row[1].text for row in shaded(context, "tce").rows} == {"–"}
    figure = multiples_figure(context, context.compounds["tce"], site())
    assert figure is not None
    assert "Round 1, not analysed at a soil point" in figure.alt
    layers = {layer.id: layer for layer in round_map_data(context).views[1].layers}
    assert "tce" not in layers
    assert layers["tce-1"].title == "Trichloroethene"


def test_the_classes_of_the_legend_reach_the_highest_mass_of_any_round() -> None:
    """Ten million at SG-12 in one round: every round's map has the class above a million, whichever is reported."""
    one, two = with_masses(SG_12="10000000").rounds
    for context in (again(two, "B", again(one, "A")), again(one, "B", again(two, "A"))):
        figure = multiples_figure(context, context.compounds["pce"], site())
        assert figure is not None
        assert "1,000,000 and above" in figure.svg
        assert "1,000,000 and above" in shaded(context).note


def test_points_beyond_the_map_widen_it() -> None:
    """A point of an earlier round 300 m off lies on the drawing; with room for all of them the ground is kept."""
    near, *others = site().points
    far = near._replace(label="far", easting_m=near.easting_m - 300)
    wider = ground_with(site(), (far, *others))
    west_m, east_m, south_m, north_m = wider.frame.limits_m
    for point in (*site().points, far):
        assert west_m < point.easting_m < east_m
        assert south_m < point.northing_m < north_m
    assert wider.points == (far, *others)
    assert ground_with(site(), tuple(others)).frame == site().frame


def test_a_round_in_another_system_is_drawn_where_it_lies() -> None:
    """Degrees lead from one zone of UTM to another; they have 7 decimals, the last of which is 11 mm."""
    own = points_in(both(), both())
    settings = both().survey.settings
    other_zone = settings.model_copy(update={"space": settings.space.model_copy(update={"map_crs": "EPSG:32613"})})
    survey = replace(both().survey, settings=other_zone)
    moved = Context(survey, evaluate(survey), ())
    assert moved.crs != both().crs
    for one, other in zip(own, points_in(both(), moved), strict=True):
        assert (other.easting_m, other.northing_m) == pytest.approx((one.easting_m, one.northing_m), abs=0.0111 / 2)


def renamed(changes: dict[str, bytes]) -> Context:
    """Return the two rounds with some files in place of others."""
    base = two_rounds()
    made = {path: InputFile(path, hashlib.sha256(content).hexdigest(), content) for path, content in changes.items()}
    return of(Folder(dict(sorted((base.files | made).items())), base.passed_over, base.findings))


def test_a_compound_under_another_id_is_one_compound_by_its_cas_number() -> None:
    """The second round calls trichloroethene tri: its pictures hold the masses of both rounds."""
    folder = two_rounds()
    listed = read(folder, "lab/analytes.csv")
    also = next(row for row in listed if row["analyte_id"] == "tce") | {"analyte_id": "tri"}
    rows = read(folder, RESULTS)
    for row in rows:
        if row["analyte_id"] == "tce" and row["lab_sample_id"].startswith(("2-", "S-")):
            row["analyte_id"] = "tri"
    context = renamed({"lab/analytes.csv": table([*listed, also]), RESULTS: table(rows)})
    assert "tce" not in context.compounds
    want = {row[0].text: [cell.text for cell in row[1:]] for row in shaded(both(), "tce").rows}
    assert {row[0].text: [cell.text for cell in row[1:]] for row in shaded(context, "tri").rows} == want
    own, other = (
        multiples_figure(one, one.compounds[name], site()) for one, name in ((both(), "tce"), (context, "tri"))
    )
    assert own is not None
    assert other is not None
    assert own.alt == other.alt
    layer = {layer.id: layer for view in round_map_data(context).views for layer in view.layers}["tri"]
    assert layer.title == "Trichloroethene"


def test_a_point_under_another_id_is_one_row_by_its_position() -> None:
    """SG-05 is called SG-5B in the second round: its earlier mass stands beside its own, with the id that it had."""
    folder = two_rounds()
    places = read(folder, "locations/locations.csv")
    also = next(row for row in places if row["location_id"] == "SG-05") | {"location_id": "SG-5B", "round": "R2"}
    holes = read(folder, "field/deployments.csv")
    for row in holes:
        if row["location_id"] == "SG-05" and row["round"] == "R2":
            row["location_id"] = "SG-5B"
    context = renamed({"locations/locations.csv": table([*places, also]), "field/deployments.csv": table(holes)})
    rows = {row[0].text: [cell.text for cell in row[1:]] for row in shaded(context).rows}
    assert "SG-05" not in rows
    assert rows["SG-5B"] == ["5.6 J (SG-05)", rows["SG-5B"][1]]
    assert ">SG-05<" not in change_figure(context).svg
    view = next(one for one in round_map_data(context).views if one.kind == "change")
    at = [point.location_id for point in view.points].index("SG-5B")
    lines = next(layer for layer in view.changes if layer.id == "pce").values[at].lines
    assert lines[0] == "First round, autumn 2025, SG-05: 5.6 J ng per sampler"


def test_a_round_in_another_unit_is_left_out_and_said_to_be() -> None:
    """Masses in µg share no classes with masses in ng."""
    context = of(edited(RESULTS, _micrograms))
    assert [one.mass_unit.code for one in context.rounds] == ["ug", "ng"]
    assert heat_block(context, context.compounds["pce"]) is None
    assert multiples_figure(context, context.compounds["pce"], site()) is None
    third = again(context, "R3", *context.earlier, again(context, "R2"))
    assert shaded(third).note.endswith("Omitted because masses are in a different unit: First round, autumn 2025.")


def _micrograms(content: bytes) -> bytes:
    head, *lines = content.decode().splitlines()
    own = [line if line.startswith(("2-", "S-")) else line.replace(",ng,", ",ug,") for line in lines]
    return ("\n".join([head, *own]) + "\n").encode()


def test_one_round_has_no_pictures_over_rounds() -> None:
    """Nothing is made where there is nothing to compare."""
    alone = both().earlier[0]
    compound = alone.compounds["pce"]
    assert heat_block(alone, compound) is None
    assert multiples_figure(alone, compound, site()) is None
    assert round_section(alone, compound, site()) is None


def test_pages_of_one_round_are_left_as_they_are() -> None:
    """The very pages come back."""
    context = of(example())
    pages = list(compound_pages(context, None))
    assert all(one is other for one, other in zip(with_round_pictures(context, None, pages), pages, strict=True))


def test_a_compound_s_page_has_its_pictures_below_its_map() -> None:
    """The section follows that of the map, before the table of points; the list of compounds has none."""
    pages = list(compound_pages(both(), site()))[:3]
    listed, *compounds = with_round_pictures(both(), site(), pages)
    assert listed is pages[0]
    for page in compounds:
        heads = [block.id for block in page.blocks if isinstance(block, Section)]
        assert heads[heads.index("rounds") - 1] == "pattern"


def test_without_a_ground_the_table_alone_is_left() -> None:
    """No position on record draws no map, and the masses are told all the same."""
    context = both()
    assert change_figures(context, context.changes[0], context.compounds["pce"], None) == ()
    section = round_section(context, context.compounds["pce"], None)
    assert section is not None
    assert [type(block) for block in section.blocks] == [Table]


def test_a_point_without_a_position_is_in_the_table_and_said_to_be_off_the_map() -> None:
    """SG-12 without coordinates: its change stands in the data, and the words count it apart."""
    context = of(edited("locations/locations.csv", _unplaced))
    figure = change_figure(context)
    assert "SG-12" not in context.points
    assert ">SG-12<" not in figure.svg
    assert figure.table is not None
    assert "SG-12" in {row[0].text for row in figure.table.rows}
    assert figure.description.endswith("1 soil point without a position on record is not on the map.")
    assert "at 57 soil points" in figure.alt


def _unplaced(content: bytes) -> bytes:
    del content
    rows = read(two_rounds(), "locations/locations.csv")
    blank = {name: "" for name in rows[0] if name.endswith(("easting", "northing"))}
    return table(row | blank if row["location_id"] == "SG-12" else row for row in rows)


def test_a_point_that_one_round_alone_sampled_stands_once_on_the_map() -> None:
    """A point that this round planned and did not sample is drawn where it has it, not at both rounds' places."""
    context = of(edited("locations/locations.csv", _planned_again))
    assert "SG-03" in context.points
    figure = change_figure(context)
    assert len(re.findall(r">SG-03<", figure.svg)) == 1
    assert "at 58 soil points" in figure.alt
    assert kinds_in(figure.alt)["sampled in one of the two rounds"] == 1 + len(NEW)


def _planned_again(content: bytes) -> bytes:
    del content
    rows = read(two_rounds(), "locations/locations.csv")
    return table(row | {"round": "R2"} if row["location_id"] == "SG-03" else row for row in rows)


def test_names_of_rounds_are_never_read_as_markup() -> None:
    """A title of markup and braces is shown as it is, and every drawing stays well-formed."""
    one, two = both().rounds
    context = again(two, HOSTILE, again(one, HOSTILE + "1"))
    section = round_section(context, context.compounds["pce"], site())
    assert section is not None
    for block in section.blocks:
        if isinstance(block, Figure):
            ET.fromstring(block.svg)  # noqa: S314
            assert "</svg>{{" not in block.svg
            assert HOSTILE in block.caption + block.alt + block.description


def test_a_comparison_belongs_to_its_own_context() -> None:
    """A change that is none of the context's is a fault, not a map of other rounds."""
    stranger: RoundChange = replace(both().changes[0])
    with pytest.raises(StopIteration):
        change_figures(both(), stranger, both().compounds["pce"], site())
