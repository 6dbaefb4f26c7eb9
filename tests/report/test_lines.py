"""Utility lines with points beside them, along a line through the survey worked by hand.

The line runs east at 10 m north of the corner of the site, from 10 m to 70 m east of it. Beside it are SG-1 (10.30,
10.40), SG-2 (30.06, 10.08), SG-3 (51.20, 11.60), and SG-7 (70.03, 10.04), which has no results; SG-4 and SG-5 are
30 m off.
"""

from __future__ import annotations

import json

import byhand_survey as survey
from builders import load

from sitegen.compute.evaluate import evaluate
from sitegen.compute.results.relate import FlowPath
from sitegen.compute.results.relations import Along
from sitegen.project.place.coordinates import WGS84, transform
from sitegen.report.record.pages import Figure, Prose, Section
from sitegen.report.results.lines import MOST_LINES, Line, most_points, shown_lines
from sitegen.report.results.patterns import line_sections
from sitegen.report.write.context import Context


def context(*ends: tuple[float, float], public: str = "yes", level: str = "internal", name: str = "Drain") -> Context:
    """Return what is written from with one utility line between points of the grid, in metres from the corner."""
    lon, lat = transform("EPSG:32614", WGS84, [470_000 + x for x, _ in ends], [4_770_000 + y for _, y in ends])
    line = {"type": "LineString", "coordinates": [[float(x), float(y)] for x, y in zip(lon, lat, strict=True)]}
    properties = {"kind": "utility", "name": name, "public": public}
    drawn = {"type": "Feature", "properties": properties, "geometry": line}
    files = dict(survey.FILES)
    files["locations/features.geojson"] = json.dumps({"type": "FeatureCollection", "features": [drawn]})
    files["project.toml"] = files["project.toml"].replace("[publish]\n", f'[publish]\nlevel = "{level}"\n')
    made = load(survey.folder(files))
    return Context(made, evaluate(made), ())


EAST = ((10.0, 10.0), (70.0, 10.0))


def test_points_with_results_beside_a_line_are_projected_on_it() -> None:
    """0.30 m, 20.06 m and 41.20 m along, 0.40, 0.08 and 1.60 m off; the point without results is left out."""
    (line,) = shown_lines(context(*EAST))
    assert [one.location_id for one in line.path.points] == ["SG-1", "SG-2", "SG-3"]
    assert [round(one.along_m, 2) for one in line.path.points] == [0.3, 20.06, 41.2]
    assert [round(one.off_m, 2) for one in line.path.points] == [0.4, 0.08, 1.6]
    assert (line.number, line.path.name) == (1, "Drain")


def test_the_section_draws_the_mapped_compounds_along_the_line() -> None:
    """PCE, TCE and benzene are mapped and detected there; the highest of each is told with its distance."""
    (section,) = line_sections(context(*EAST))
    assert isinstance(section, Section)
    how, figure = section.blocks
    assert isinstance(how, Prose)
    assert how.markdown.startswith("1 utility line has at least 3 soil points with results along it.")
    assert isinstance(figure, Figure)
    assert figure.id == "utility-1"
    assert figure.table is not None
    assert [[cell.text for cell in row] for row in figure.table.rows] == [
        ["SG-1", "0", "0", "620", "84", "55"],
        ["SG-2", "20", "0", "150", "<8", "26 J+"],
        ["SG-3", "41", "2", "<10", "<8", "140 E"],
    ]
    assert "3 soil points with results within 15 m of the line" in figure.caption
    told = "620 at SG-1, 0 m along; Trichloroethene 84 at SG-1, 0 m along; Benzene 140 E at SG-3, 41 m along"
    assert told in figure.description
    assert "lab/results.csv" not in section.reads
    assert {"results", "features"} <= section.reads


def test_a_line_with_fewer_points_is_not_drawn() -> None:
    """From 60 m east on SG-3 is beside it and SG-7 has no results; beside the survey's water main no three have any."""
    assert shown_lines(context((60.0, 10.0), (70.0, 10.0))) == ()
    assert line_sections(context((60.0, 10.0), (70.0, 10.0))) == ()
    report = survey.report()
    patterns = next(page for page in report.pages if page.ref.id == "patterns")
    assert "lines" not in [block.id for block in patterns.blocks if isinstance(block, Section)]


def test_a_line_that_is_not_public_is_drawn_for_the_team_alone() -> None:
    """A copy for the client does not show it; a line without a name is called by its number."""
    assert len(shown_lines(context(*EAST, public="no"))) == 1
    assert shown_lines(context(*EAST, public="no", level="client")) == ()
    assert shown_lines(context(*EAST, name=""))[0].path.name == "utility 1"


def test_of_many_lines_those_with_most_points_are_drawn_in_their_order() -> None:
    """Eight lines with 3 to 10 points: the two with fewest are left out."""
    lines = tuple(
        Line(n, FlowPath("", True, 9.0, tuple(Along(f"P-{at}", float(at), 0.0) for at in range(count))))
        for n, count in enumerate((3, 10, 4, 9, 5, 8, 6, 7), start=1)
    )
    assert MOST_LINES == 6
    assert [line.number for line in most_points(lines)] == [2, 4, 5, 6, 7, 8]
