"""Figures of the report: every one in words and as data, and no point more or less than its table."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from functools import cache

import pytest
import shapely
from builders import Change, changed, content, load, setting, settings_added
from builders import cell as with_cell

from sitegen.compute.evaluate import evaluate
from sitegen.compute.place.points import map_crs, on_map
from sitegen.compute.results.store import stored_results
from sitegen.compute.statistics.classes import size_class
from sitegen.figures.look import CLASS_COLOURS
from sitegen.project.schema import SOIL_MEDIA
from sitegen.render.data.exports import export_files
from sitegen.report.assemble import assemble, draft
from sitegen.report.record.pages import Block, Callout, Facts, Figure, Page, Ref, Report, Section, Table
from sitegen.report.results.mapdata import map_data, place_values
from sitegen.report.write.context import Context

CONTOURS = setting("contours = false", "contours = true")
CLIENT = setting('level = "internal" ', 'level = "client" ')


@cache
def built(*changes: Change) -> tuple[Report, Context]:
    """Return the example's report with changes, and the context it was written from."""
    survey = load(changed(*changes))
    evaluation = evaluate(survey)
    return assemble(draft(survey, evaluation, ())), Context(survey, evaluation, ())


def inside(blocks: tuple[Block, ...]) -> Iterator[Block]:
    """Yield blocks with those of their sections."""
    for block in blocks:
        yield block
        if isinstance(block, Section):
            yield from inside(block.blocks)


def page(report: Report, kind: str, name: str) -> Page:
    return next(found for found in report.pages if found.ref == Ref(kind, name))


def figures(report: Report) -> dict[str, Figure]:
    return {block.id: block for found in report.pages for block in inside(found.blocks) if isinstance(block, Figure)}


OURS = (
    "location-map",
    "multiples-",
    "transect-",
    "widest-gaps",
    "before-after",
    "duplicate-limits",
    "contour-",
    "variogram-",
)


def test_every_figure_has_caption_alternative_text_and_words() -> None:
    for figure in figures(built(CONTOURS)[0]).values():
        assert figure.caption.endswith("."), figure.id
        assert figure.alt.endswith("."), figure.id
        assert figure.description.endswith("."), figure.id
        assert figure.svg.startswith("<svg"), figure.id


def test_figures_over_all_compounds_also_have_words_and_data() -> None:
    found = {name: figure for name, figure in figures(built(CONTOURS)[0]).items() if name.startswith(OURS)}
    assert {name.rstrip("0123456789") for name in found} >= {"multiples-", "transect-", "widest-gaps"}
    for figure in found.values():
        assert figure.description
        assert figure.table is not None
        assert figure.table.rows


def test_semivariances_keep_three_figures() -> None:
    for figure in figures(built(CONTOURS)[0]).values():
        if figure.id.startswith("variogram-") and figure.table:
            for _, value, _ in figure.table.rows:
                assert len(value.text.replace(".", "").lstrip("0")) == 3, value.text


def test_the_heat_table_says_what_each_shade_stands_for() -> None:
    report, context = built()
    heat = next(b for b in inside(page(report, "page", "heat").blocks) if isinstance(b, Table))
    assert "; ".join(context.class_labels) in heat.note


def test_ranked_bars_leave_out_no_detection_up_to_sixty() -> None:
    report, context = built()
    for compound in context.evaluation.compounds:
        drawn = figures(report).get(f"ranked-{compound.analyte_id}")
        assert drawn is None or "more not drawn" not in drawn.svg


def test_as_many_symbols_as_rows_on_every_compound_s_map() -> None:
    report, context = built()
    for compound in context.evaluation.compounds:
        name = f"map-{compound.analyte_id}"
        if name not in figures(report):
            continue
        svg = figures(report)[name].svg
        every = context.by_compound[compound.analyte_id]
        rows = [row for row in every if row.medium in SOIL_MEDIA and not row.rejected]
        table = next(
            b for b in inside(page(report, "compound", compound.analyte_id).blocks)
            if isinstance(b, Table) and b.id == f"points-{compound.analyte_id}"
        )  # fmt: skip
        assert len(table.rows) == len(rows)
        classes = [size_class(row.value) for row in rows if row.detected]
        for k, colour in enumerate(CLASS_COLOURS):
            in_legend = k <= max(classes, default=-1)
            assert svg.count(f'fill="{colour}"') == classes.count(k) + in_legend


def test_the_map_s_points_are_the_rows_of_its_table() -> None:
    report, _ = built()
    twin = next(b for b in inside(page(report, "page", "map").blocks) if isinstance(b, Table) and b.id == "map-twin")
    assert [row[0].text for row in twin.rows] == [point.location_id for point in report.map.points]
    assert all(len(layer.values) == len(report.map.points) for layer in report.map.layers)


def test_classes_end_at_the_highest_of_the_survey() -> None:
    """No class above the highest mass of the survey is named: an empty one would stand first."""
    _, context = built()
    highest = max(size_class(row.value) for row in stored_results(context.evaluation.primary) if row.detected)
    assert len(context.class_labels) == highest + 1


def test_each_group_of_several_compounds_has_a_layer_of_sums() -> None:
    report, context = built()
    sums = [layer for layer in report.map.layers if layer.whole_words]
    assert [layer.id for layer in sums] == [f"sum-{group}" for group in context.group_sums]
    assert len(sums) >= 3
    for layer in sums:
        for value in layer.values:
            said = value.text
            assert value.size_class is None or "detected" in said
            assert (value.size_class or 0) < 0 or value.size_class is None or "ng per sampler" in said
    blocks = inside(page(report, "page", "patterns").blocks)
    table = next(b for b in blocks if isinstance(b, Table) and b.id == "group-sums")
    told = [value.text for value in sums[0].values if value.size_class is not None]
    short = [re.sub(r"^(none) of (\d+) detected", r"\1 (0 of \2)", text) for text in told]
    short = [re.sub(r" ng per sampler, (\d+ of \d+) detected", r" (\1)", text) for text in short]
    assert [row[1].text for row in table.rows if row[1].tone != "muted"] == short
    assert {column.unit for column in table.columns[1:]} == {"ng per sampler"}
    assert all(re.fullmatch(r"(none|[\d,.]+) \(\d+ of \d+\)", text) for text in short)


def test_compounds_stand_under_their_groups() -> None:
    report, context = built()
    groups = {c.analyte_id: c.group for c in context.evaluation.compounds}
    named = {layer.group for layer in report.map.layers if layer.id in groups}
    assert len(named) == len(set(groups.values()))


def test_every_compound_page_leads_to_the_map() -> None:
    report, context = built()
    for compound in context.evaluation.compounds:
        blocks = list(inside(page(report, "compound", compound.analyte_id).blocks))
        refs = [cell.ref for block in blocks if isinstance(block, Facts) for _, cell in block.rows]
        assert Ref("map", compound.analyte_id) in refs


def test_every_heat_cell_is_shaded_by_its_own_value_and_carries_its_marks() -> None:
    report, context = built()
    (table,) = page(report, "page", "heat").blocks
    assert isinstance(table, Table)
    results = {(row.location_id, row.analyte_id): row for row in stored_results(context.evaluation.primary)}
    shaded = 0
    for row in table.rows:
        for column, cell in zip(table.columns[1:], row[1:], strict=True):
            result = results.get((row[0].text, column.key))
            if result is None:
                assert cell.tone == "muted"
                continue
            expected = f"class{size_class(result.value)}" if result.detected else "nondetect"
            assert cell.tone == expected
            assert cell.marks == context.ringed(result)
            below = cell.text.startswith("<") or "(<" in cell.text or cell.text.endswith(" U")
            assert below != bool(result.detected)
            shaded += result.detected
    assert shaded > 200
    assert all(column.unit == "ng per sampler" for column in table.columns[1:])


def test_the_widest_gaps_are_for_the_reviewer_only() -> None:
    internal, client = built()[0], built(CLIENT)[0]
    assert [p.ref.id for p in internal.pages if p.ref.id == "next"] == ["next"]
    assert not [p for p in client.pages if p.ref.id == "next"]
    caution = page(internal, "page", "next").blocks[0]
    assert isinstance(caution, Callout)
    assert "For planning" in caution.title


def test_contours_are_off_unless_asked_for() -> None:
    report, context = built()
    assert not context.patterns
    assert not [name for name in figures(report) if name.startswith("contour-")]
    assert "downloads/for_gis/contours.geojson" not in export_files(report)


def test_each_mapped_compound_has_its_contour_or_a_reason_in_words() -> None:
    report, context = built(CONTOURS)
    drawn = figures(report)
    assert {f"contour-{c.analyte_id}" in drawn for c in context.evaluation.compounds if c.mapped} == {True, False}
    for compound in context.evaluation.compounds:
        sections = [b for b in inside(page(report, "compound", compound.analyte_id).blocks)
                    if isinstance(b, Section) and b.id == "interpolated"]  # fmt: skip
        assert len(sections) == int(compound.mapped)
        if sections and f"contour-{compound.analyte_id}" not in drawn:
            (callout,) = sections[0].blocks
            assert isinstance(callout, Callout)
            assert compound.name.split(",")[0] in callout.markdown.replace("\\", "")


def test_the_false_pattern_of_the_contaminated_bag_gets_no_contour() -> None:
    report, _ = built(CONTOURS)
    assert "contour-toluene" not in figures(report)
    blocks = inside(page(report, "compound", "toluene").blocks)
    said = [b.markdown for b in blocks if isinstance(b, Callout)]
    assert any("source of that contamination" in words.replace("\\", "") for words in said)


def test_downloaded_areas_are_as_large_as_they_say() -> None:
    """Back in the project's system, a polygon's area is the one in its row to a thousandth."""
    report, context = built(CONTOURS)
    data = json.loads(export_files(report)["downloads/for_gis/contours.geojson"])
    assert len(data["features"]) > 10
    for feature in data["features"]:
        shape = on_map(shapely.geometry.shape(feature["geometry"]), map_crs(context.survey))
        assert shape.is_valid or shapely.make_valid(shape).area > 0
        assert shape.area == pytest.approx(feature["properties"]["area_m2"], rel=1e-3, abs=1)


def test_every_contour_is_called_a_pattern_of_mass_with_its_unit() -> None:
    for name, figure in figures(built(CONTOURS)[0]).items():
        if name.startswith("contour-"):
            assert "interpolated pattern of mass, ng per sampler" in figure.caption


def test_a_background_picture_reaches_the_map_and_a_bad_one_does_not() -> None:
    edges = "west = -99.4, south = 43.0, east = -99.3, north = 43.1"
    words = f'[map]\nbackground = {{ file = "records/a.png", {edges}, licence = "CC0" }}'
    good = b"\x89PNG\r\n\x1a\n"
    for picture, shown in ((good, True), (b"no picture", False)):
        survey = load(changed(settings_added(words), content("records/a.png", picture)))
        found = map_data(Context(survey, evaluate(survey), ())).background
        assert (found is not None) == shown


def test_rejected_results_and_air_have_no_class_on_a_soil_map() -> None:
    _, context = built()
    values = place_values(context, "pce")
    for point, value in zip(context.evaluation.points, values, strict=True):
        if point.medium not in SOIL_MEDIA:
            assert value.size_class is None


def test_the_location_map_s_table_has_every_point_and_says_how_far_it_moved() -> None:
    report, context = built()
    figure = figures(report)["location-map"]
    assert figure.table is not None
    found = {row[0].text: row[-1].text for row in figure.table.rows}
    assert list(found) == [point.location_id for point in context.evaluation.points]
    for point in context.evaluation.points:
        if point.moved_m is not None and point.moved_m > context.evaluation.limits["moved_m"].value:
            assert point.location_id in figure.description
            assert float(found[point.location_id]) == pytest.approx(point.moved_m, abs=0.05)


def test_a_point_never_placed_is_told_apart_from_one_without_a_surveyed_position() -> None:
    """SG-07 was not done; a point that was placed and lacks its survey is another thing."""
    words = figures(built()[0])["location-map"].description
    assert "No deployment on record, drawn at the planned position: SG-07." in words
    assert "No surveyed position" not in words
    lost = [with_cell("locations/locations.csv", "SG-02", name, "") for name in ("easting", "northing")]
    words = figures(built(*lost)[0])["location-map"].description
    assert "No deployment on record, drawn at the planned position: SG-07." in words
    assert "No surveyed position on record, drawn at the planned position: SG-02." in words
