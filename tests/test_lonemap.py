"""``sitegen map``: which map is meant, where it goes, what keeps it from being written; and the maps of a build."""

from __future__ import annotations

import io
import os
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from builders import Change, cells, changed, feature_added, removed, row_added, setting, table, write
from PIL import Image
from planned_survey import planned
from pypdf import PdfReader
from small_survey import small_survey
from survey_in_feet import feet
from typer.testing import CliRunner

from sitegen import cli
from sitegen.checking import check_snapshot
from sitegen.compute.rounds.campaigns import Campaign
from sitegen.findings.problems import OutputFault, Stopped, WrongUse
from sitegen.lonemap import Asked, chosen, make_map
from sitegen.pipeline import Built, prepare
from sitegen.render.print.lone import lone_sources, lone_texts
from sitegen.report.assemble import Draft, assemble
from sitegen.report.record.lone import MAPS, Atlas
from sitegen.report.record.pages import Facts, Ref, Section
from sitegen.report.results.lone import atlas
from sitegen.report.write.context import Context


def outside(level: str) -> tuple[Change, ...]:
    """Return the changes that let the example leave the house: its level, and a comment without personal data."""
    return setting('level = "internal"', f'level = "{level}"'), cells("field/deployments.csv", "0047102", comment="")


@cache
def drafted(*changes: Change) -> Draft:
    return prepare(check_snapshot(changed(*changes)))[1]


@cache
def whole(*changes: Change) -> Atlas:
    return atlas(drafted(*changes).context, every=True)


@pytest.fixture(scope="module")
def small(example: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return small_survey(example, tmp_path_factory.mktemp("map") / "survey")


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ("pce", "pce"),
        ("Tetrachloroethene", "pce"),
        ("127-18-4", "pce"),
        ("perchloroethylene", "pce"),
        ("  PERCHLOROETHYLENE ", "pce"),
        ("sum-fuel_aromatics", "sum-fuel_aromatics"),
        ("sum of FUEL aromatics", "sum-fuel_aromatics"),
        ("MTBE", "mtbe"),
    ],
)
def test_a_compound_is_known_by_each_of_its_spellings(wanted: str, found: str) -> None:
    """Id, name, CAS number and synonym lead to one compound, mapped in the report or not; a sum to its group."""
    assert chosen(drafted().context, whole().maps, wanted).id == found


def test_a_compound_that_is_not_there_is_told_with_the_nearest() -> None:
    """The message names what is near and all that there is."""
    with pytest.raises(WrongUse, match=r"nearest: pce \(Tetrachloroethene.*there are: pce, tce, cis12dce"):
        chosen(drafted().context, whole().maps, "tetrachlorethene")
    with pytest.raises(WrongUse, match="no map of ''"):
        chosen(drafted().context, whole().maps, "")


def test_a_synonym_of_two_compounds_is_told_as_such() -> None:
    """Where two compounds have the same synonym, neither is taken for the other."""
    made = drafted(cells("lab/analytes.csv", "tce", synonyms="PCE"))
    with pytest.raises(WrongUse, match="more than one: pce, tce"):
        chosen(made.context, whole().maps, "PCE")


def test_the_map_says_what_the_results_say() -> None:
    """Counts, media, dates and rings of a map are those of the record of the example.

    The example has 51 soil points with results, tetrachloroethene at 41 of them, most at SS-01; its README and
    its tables say so.
    """
    one = chosen(drafted().context, whole().maps, "pce")
    assert "at 51 soil points: 41 detections, the highest at SS-01; 10 non-detects" in one.alt
    assert one.subtitle == "Mass, ng per sampler: passive samplers in soil gas, sub-slab soil gas"
    assert ("Samplers placed", "23 October 2025 to 24 October 2025") in whole().grounds[0].facts
    assert "water (SG-37)" in " ".join(one.notes)
    names = [point.label for point in whole().grounds[0].points]
    assert one.texts[names.index("SG-37")].endswith("[water]")
    assert one.texts[names.index("OA-01")] == ""
    assert one.texts[names.index("SG-01")] == "<10"


def test_a_ring_is_drawn_where_a_mark_is_told() -> None:
    """Points with a ring are those whose text has marks, on every map."""
    for one in whole().maps:
        ringed = {at for at, value in enumerate(one.values) if value.marked and value.size_class is not None}
        assert ringed == {at for at, words in enumerate(one.texts) if "[" in words}, one.id


def test_every_class_of_a_map_has_its_words() -> None:
    """A sum may be of a higher class than any compound; the legend's words reach that far."""
    highest = max(value.size_class or 0 for one in whole().maps for value in one.values)
    assert highest < len(whole().grounds[0].class_labels)


def test_the_caution_stands_where_utilities_or_occupied_buildings_are_drawn() -> None:
    """With utilities and an occupied building both are told; a site without features has no such caution."""
    one = whole().maps[0]
    assert "concentration" in one.cautions[0]
    assert "On record as occupied: Office." in one.cautions[1]
    assert "does not replace utility clearance" in one.cautions[1]
    bare = whole(removed("locations/features.geojson")).maps[0]
    assert len(bare.cautions) == 1
    assert "features" not in bare.notes[-1]


def test_points_without_a_position_are_counted_on_the_map() -> None:
    """What can't be drawn is said."""
    added = row_added(
        "locations/locations.csv", location_id="SG-98", medium="soil_gas", design="added", status="placed"
    )
    made = drafted(added)
    assert "1 point without a position on record is not drawn." in atlas(made.context).maps[0].notes


def test_a_project_in_feet_has_a_scale_in_feet_and_says_both_systems() -> None:
    """Positions in US survey feet ask for feet to the inch; the drawn system and the record's own are named."""
    ground = whole(*feet("us_survey")).grounds[0]
    assert ground.feet
    assert ground.crs_text.startswith("EPSG:32614")
    assert ground.crs_text.endswith("EPSG:3455")
    assert not whole().grounds[0].feet


def test_earlier_rounds_follow_with_ids_of_their_own() -> None:
    """The maps of an earlier round follow, named after it, and no layer of the web map leads to them."""
    context = drafted().context
    before = replace(context, campaign=Campaign("R1", "First round"))
    both = replace(context, campaign=Campaign("R2", "Second round"), earlier=(before,))
    found = atlas(both)
    half = len(found.maps) // 2
    assert [one.id for one in found.maps[half:]] == [f"R1/{one.id}" for one in found.maps[:half]]
    assert {one.layer for one in found.maps[half:]} == {""}
    assert [ground.facts[0] for ground in found.grounds] == [("Round", "Second round"), ("Round", "First round")]


def test_the_points_themselves_have_a_map() -> None:
    """It has no mass, no class and no ring, says how many points lie where, and stands last."""
    one = whole().maps[-1]
    assert (one.id, one.values, one.unit) == ("points", (), "")
    assert one.subtitle.startswith(f"{len(whole().grounds[0].points)} points of every medium")
    data = lone_sources(whole().only([one]), drafted().bound.meta, "a4").files["data.json"].decode()
    assert ">planned position<" in data
    assert "ng per sampler" not in data
    assert "concentration" not in " ".join(one.cautions)
    assert "utility clearance" in one.cautions[0]


def test_a_plan_has_the_map_of_its_points_and_no_other() -> None:
    """Before any result the command draws the points; the work plan has no file of maps that no page leads to."""
    made = prepare(check_snapshot(planned()))[1]
    assert [one.id for one in atlas(made.context, every=True).maps] == ["points"]
    assert made.bound.atlas.maps == ()


def test_nothing_is_mapped_before_there_are_results() -> None:
    """A survey without a result has no map, no page for one, and a command that says so."""
    context: Context = drafted().context
    with pytest.raises(WrongUse, match="nothing to map"):
        chosen(context, (), "pce")


def test_no_mapped_compound_leaves_the_sums() -> None:
    """Where the list maps no compound, the build has the sums by group; the command still draws any compound."""
    made = drafted(table("lab/analytes.csv", lambda rows: [row | {"map": "no"} for row in rows]))
    assert {one.id.partition("-")[0] for one in atlas(made.context).maps} == {"sum", "points"}
    assert chosen(made.context, atlas(made.context, every=True).maps, "pce").id == "pce"


def test_a_public_map_bears_public_labels() -> None:
    """Where a point has another name in public, the map, its words and its list of marks have that name."""
    made = drafted(
        *outside("public"),
        cells("locations/locations.csv", "SG-37", public_label="P-37"),
    )
    texts = [*lone_texts(made.bound.atlas, made.bound.meta)]
    assert "P-37" in texts
    assert not [words for words in texts if "SG-37" in words]
    assert any("water (P-37)" in words for words in texts)
    data = lone_sources(made.bound.atlas, made.bound.meta, "a4").files["data.json"].decode()
    assert ">P-37<" in data
    assert "SG-37" not in data


def test_pages_and_links_agree() -> None:
    """The web map's layer, the compound's page and the downloads lead to the page that has the map."""
    report = assemble(drafted())
    pages = {one.layer: at for at, one in enumerate(report.atlas.maps, 1)}
    for layer in report.map.layers:
        assert layer.page == pages.get(layer.id, 0)
    for page in report.pages:
        if page.ref.kind == "compound":
            refs = [
                cell.ref for block in page.blocks for cell in _fact_cells(block) if cell.ref and cell.ref.id == MAPS
            ]
            at = pages.get(page.ref.id)
            assert refs == ([Ref("file", MAPS, f"page={at}")] if at else []), page.ref


def _fact_cells(block: object) -> list[object]:
    if isinstance(block, Section):
        return [cell for inner in block.blocks for cell in _fact_cells(inner)]
    return [cell for _, cell in block.rows] if isinstance(block, Facts) else []


def test_a_build_has_a_page_for_each_map(built: Built) -> None:
    """The PDF of the built example has a page for each mapped compound and sum, on the project's paper."""
    reader = PdfReader(built.out / "site" / MAPS)
    assert [item["/Title"] for item in reader.outline] == [one.title for one in built.report.atlas.maps]
    assert sorted(float(side) for side in reader.pages[0].mediabox[2:]) == pytest.approx([595.28, 841.89], abs=0.01)
    assert f'"lone":"../{MAPS}"' in (built.out / "site/map/index.html").read_text("utf-8")
    assert "maps.pdf#page=1" in (built.out / "site/compounds/pce.html").read_text("utf-8")


def test_the_command_writes_a_pdf_and_a_picture_beside_the_folder(small: Path) -> None:
    """By default the map is a PDF beside the folder; a name with .png gives a picture, and its pixels are told."""
    runner = CliRunner()
    done = runner.invoke(cli.app, ["map", str(small), "--compound", "PCE"])
    assert done.exit_code == 0, done.output
    file = small.parent / "survey-map-pce.pdf"
    assert len(PdfReader(file).pages) == 1
    first = file.read_bytes()
    picture = small.parent / "pce.png"
    done = runner.invoke(cli.app, ["map", str(small), "--compound", "pce", "--paper", "letter", "--out", str(picture)])
    assert "2200 × 1700 pixels, 200 to the inch" in done.output
    with Image.open(io.BytesIO(picture.read_bytes())) as opened:
        assert opened.size == (2200, 1700)
    os.utime(small / "project.toml", (0, 0))
    make_map(small, Asked("pce"))
    assert file.read_bytes() == first
    assert sorted(path.name for path in small.parent.iterdir()) == ["pce.png", "survey", "survey-map-pce.pdf"]


def test_no_file_but_its_own_is_replaced(small: Path, tmp_path: Path) -> None:
    """A file that is no such map, a place in the folder and another kind of file are refused; all stay as they were."""
    other = tmp_path / "report.pdf"
    other.write_bytes(b"%PDF-1.4 of somebody")
    for out in (other, small / "map.pdf", tmp_path / "map.svg", tmp_path):
        with pytest.raises(WrongUse):
            make_map(small, Asked("pce"), out)
    assert other.read_bytes() == b"%PDF-1.4 of somebody"
    assert not (small / "map.pdf").exists()


def test_findings_that_stop_and_unknown_rounds_write_nothing(tmp_path: Path) -> None:
    """A stop, a round that isn't there, and --issue while findings hold leave no file."""
    folder = write(changed(), tmp_path / "survey")
    with pytest.raises(WrongUse, match="no round 'R9'"):
        make_map(folder, Asked("pce", round_id="R9"))
    with pytest.raises(Stopped):
        make_map(folder, Asked("pce", issue=True))
    (folder / "lab/results.csv").unlink()
    with pytest.raises(Stopped):
        make_map(folder, Asked("pce"))
    assert [path.name for path in tmp_path.iterdir()] == ["survey"]


def test_private_words_on_a_map_keep_it_from_a_client(tmp_path: Path) -> None:
    """A name of the private tables on a feature for all to see stops a map that leaves the house."""
    gate = {"type": "Point", "coordinates": [-99.3675, 43.0825]}
    shown = feature_added(gate, kind="other", name="Gate of Varnhollow", public="yes")
    private = Change("private/contacts.csv", lambda _: b"name\nVarnhollow\n")
    folder = write(changed(shown, private, *outside("client")), tmp_path / "survey")
    with pytest.raises(OutputFault, match="Varnhollow"):
        make_map(folder, Asked("pce"))
    assert [path.name for path in tmp_path.iterdir()] == ["survey"]
