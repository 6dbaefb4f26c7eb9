"""What the template says of positions and shapes works as it stands."""

from __future__ import annotations

import re

from sitegen.cli import template_folder
from sitegen.project.featurefiles import NAMES
from sitegen.project.place.corners import COLUMNS, read_corners
from sitegen.project.settings import FilePart, PointsPart, read_settings

SECTION = (template_folder() / "README.md").read_text("utf-8").split("\n## Positions and shapes\n")[1].split("\n## ")[0]


def blocks() -> list[str]:
    """Return the indented examples of the section."""
    return [re.sub(r"(?m)^ {4}", "", block) for block in re.findall(r"(?m)(?:^ {4}.*\n)+", SECTION)]


def test_every_name_that_is_looked_for_is_named() -> None:
    """No kind of file has to be found out from the program."""
    named = re.findall(r"^\| `([^`]+)` \|", SECTION, re.MULTILINE)
    assert [f"locations/{name}" for name in named] == list(NAMES)


def test_the_settings_shown_are_read_as_they_stand() -> None:
    """Both examples, and the lines of project.toml with their signs taken away."""
    required = (template_folder() / "project.toml").read_text("utf-8")
    shown = [block for block in blocks() if block.startswith("[")]
    assert len(shown) == 2
    whole, findings = read_settings((required + "\n" + "\n".join(shown)).encode())
    assert findings == []
    assert whole is not None
    assert whole.features.words == {"BLDG": "building", "N": "no"}
    assert whole.points.file == "locations/gps.gpx"
    part = required.split("# [features]")[1].split("\n[plan]")[0]
    lines = re.sub(r"(?m)^# ", "", f"# [features]{part}")
    whole, findings = read_settings(required.replace(f"# [features]{part}", lines).encode())
    assert findings == []
    assert whole is not None
    assert whole.features.kind == "TYPE"
    assert set(whole.points.columns) == {"location_id", "latitude", "longitude"}
    assert whole.points != PointsPart()


def test_the_corners_shown_are_a_building() -> None:
    """The example draws one area of three corners, in the project's system."""
    (shown,) = [block for block in blocks() if block.startswith("feature,")]
    (drawn,) = read_corners(shown.encode(), FilePart(), "EPSG:32614", "locations/corners.csv").features
    assert drawn.fault is None
    assert drawn.properties == {"kind": "building", "name": "Workshop", "public": "yes"}
    assert set(shown.splitlines()[0].split(",")) <= set(COLUMNS)
