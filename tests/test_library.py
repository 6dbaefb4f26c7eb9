"""The library face: frames that agree with the downloads, figures, builds, and clear errors."""

from __future__ import annotations

import csv
import json
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest
from builders import cells, changed, removed, write

import sitegen
from sitegen.findings.problems import Stopped, WrongUse
from sitegen.library import Survey
from sitegen.pipeline import Built

EXAMPLE = Path(__file__).resolve().parents[1] / "example_project"
LOCATIONS = "locations/locations.csv"


@cache
def example() -> Survey:
    return sitegen.read(EXAMPLE)


def test_the_frame_of_results_is_the_download(built: Built) -> None:
    """Each cell of results.csv stands in the frame: a non-detect without a value, numbers as numbers."""
    with (built.out / "site/downloads/results.csv").open(encoding="utf-8-sig", newline="") as opened:
        rows = list(csv.DictReader(opened))
    frame = example().results
    assert len(frame) == len(rows) > 1000
    assert list(frame["value"].isna()) == [row["value"] == "" for row in rows]
    assert frame["value"].fillna(-1).tolist() == [float(row["value"] or -1) for row in rows]
    assert frame["detected"].tolist() == [row["detected"] == "true" for row in rows]
    assert frame["sampler_id"].fillna("").tolist() == [row["sampler_id"] for row in rows]


def test_types_say_what_is_missing() -> None:
    """Text, numbers, whole numbers, truth and moments have types of their own, each with a missing value."""
    types = {name: str(kind) for name, kind in example().exposures.dtypes.items()}
    assert (types["sampler_id"], types["exposure_min"], types["exposure_days"]) == ("string", "Int64", "Float64")
    assert types["placed_at"].startswith("datetime64")
    assert types["placed_at"].endswith("UTC]")
    assert str(example().results["detected"].dtype) == "boolean"


def test_an_exposure_is_what_the_field_sheet_says() -> None:
    """SG-30: in at 08:37 on 23 October 2025, out at 07:04 on the 28th, 7,107 minutes in one zone and summer time."""
    row = example().exposures.set_index("sampler_id").loc["0047105"]
    assert (row["location_id"], row["exposure_min"]) == ("SG-30", 4 * 1440 + 22 * 60 + 27)
    assert str(row["placed_at"]) == "2025-10-23 13:37:00+00:00"


@pytest.mark.skipif(find_spec("geopandas") is None, reason="geopandas is not installed: points are a plain frame")
def test_points_are_places_where_geopandas_is_installed(tmp_path: Path) -> None:
    """Each point lies where the map grid has it, to the seventh decimal of a degree; one without a position nowhere."""
    unknown = cells(LOCATIONS, "SG-02", easting="", northing="", plan_easting="", plan_northing="")
    points: Any = sitegen.read(write(changed(unknown), tmp_path / "survey")).points.set_index("location_id")
    assert points.crs == "EPSG:4326"
    assert list(points.index[points.geometry.isna()]) == ["SG-02"]
    assert not points.geometry.is_empty.any()
    placed = points.drop(index="SG-02")
    on_grid, half_a_step_m = placed.to_crs("EPSG:32614").geometry, 0.5e-7 * 111_320
    assert (on_grid.x - placed["x"].astype("float64")).abs().max() < half_a_step_m + 0.0005
    assert (on_grid.y - placed["y"].astype("float64")).abs().max() < half_a_step_m + 0.0005
    assert json.loads(points.to_json())["features"][1]["geometry"] is None


def test_a_compound_is_known_by_id_name_and_number() -> None:
    """The summaries of one compound are indexed by group of points."""
    by_id, by_name, by_cas = (example().summary(text) for text in ("pce", "Tetrachloroethene", "127-18-4"))
    assert by_id.equals(by_name)
    assert by_id.equals(by_cas)
    assert by_id.loc["soil", "analysed"] == 51


def test_every_column_has_a_meaning() -> None:
    """Each frame's columns are told with their units."""
    frames = {name: getattr(example(), name) for name in ("results", "points", "exposures", "compounds")}
    for name, frame in (frames | {"findings": example().check()}).items():
        told = example().columns(name)
        assert list(told.index) == [c for c in frame.columns if c != "geometry"]
        assert (told["meaning"] != "").all()


def test_a_figure_shows_itself_in_a_notebook(tmp_path: Path) -> None:
    """It is SVG with a caption and words for those who can't see it, and can be saved."""
    figure = example().figure("map", "pce")
    assert figure._repr_svg_().startswith("<svg")
    assert "Tetrachloroethene" in figure.caption
    assert figure.save(tmp_path / "map.svg").read_text("utf-8") == figure.svg
    assert example().figure("ranking", "pce").svg != figure.svg


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (lambda s: s.figure("pie", "pce"), "no figure 'pie': there are map, ranking"),
        (lambda s: s.summary("kryptonite"), "no compound 'kryptonite'"),
        (lambda s: s.columns("things"), "no frame 'things'"),
    ],
)
def test_what_is_not_there_is_said(ask: object, said: str) -> None:
    """A name that nothing has is a clear error, with those that there are."""
    with pytest.raises(WrongUse, match=said):
        ask(example())  # type: ignore[operator]


def test_a_record_that_findings_stop_tells_them_and_gives_no_frame(tmp_path: Path) -> None:
    """The findings can be looked at; frames raise what a build raises."""
    survey = sitegen.read(write(changed(removed("lab/analytes.csv")), tmp_path / "survey"))
    assert not survey.sound
    assert survey.check()["severity"].iloc[0] == "stop"
    assert "severity" in survey.columns("findings").index
    with pytest.raises(Stopped):
        _ = survey.results
