"""Messages about what project.toml says of defaults, of features and of files, each text once."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import defects as named
from builders import Change, cell, changed, content, example, feature_added, settings_added, without_features
from defects import SG_08, points_from, waypoints
from remedies import last_feature_removed, looked_up, text_of, told
from trials import Trial

from sitegen.findings.problems import Finding
from sitegen.project.folder import Folder

Steps = Callable[[Folder, Finding], Iterator[Change]]
X, Y = SG_08
PLACED = "defaults.deployments"


def ring(*corners: tuple[float, float]) -> dict[str, object]:
    """Return a shape beside SG-08, its corners in ten-thousandths of a degree from there."""
    places = [[X + x * 1e-5, Y + y * 1e-5] for x, y in corners]
    return {"type": "Polygon", "coordinates": [[*places, places[0]]]}


SQUARE = ring((0, 0), (5, 0), (5, 5), (0, 5))
CROSSED = ring((0, 0), (5, 5), (5, 0), (0, 5))


def said(words: str, old: str, new: str) -> Steps:
    """Change project.toml as the message says in these words."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        assert words in finding.do, finding.do
        now = text_of(folder, named.SETTINGS)
        assert old in now, now
        yield content(named.SETTINGS, now.replace(old, new, 1).encode())

    return remedy


def added(words: str, *lines: str) -> Steps:
    """Add lines at the end of project.toml, as the message says in these words."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        assert words in finding.do, finding.do
        yield content(named.SETTINGS, "\n".join([text_of(folder, named.SETTINGS), *lines, ""]).encode())

    return remedy


def redrawn(words: str) -> Steps:
    """Redraw the shape that was added: here it is taken away, and a sound one put in its place."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        assert words in finding.do, finding.do
        yield from last_feature_removed(folder, finding)
        yield feature_added(SQUARE, kind="paved_area", name="Slab", surface="concrete")

    return remedy


def stated(lines: str) -> Callable[[], Folder]:
    return lambda: changed(settings_added(lines))


def drawn(*changes: Change) -> Callable[[], Folder]:
    return lambda: changed(*changes)


WHERE_ALL = f'[{PLACED}]\nwhere = "all"'
NO_CONDITION = f'[[{PLACED}.where]]\nset = {{ closure = "cap" }}'
NO_VALUES = f"[[{PLACED}.where]]\nplaced_on = 2025-10-23"
NO_SUCH = f'[[{PLACED}.where]]\nmood = "x"\nset = {{ closure = "cap" }}'
OF_A_ROLE = '[defaults.custody]\norganisation = "Example (invented)"'
SETTINGS = (
    Trial("where-no-table", "default-invalid", stated(WHERE_ALL), said("write it as such a table", WHERE_ALL,
          f'[[{PLACED}.where]]\nplaced_on = 2025-10-23\nset = {{ closure = "cap" }}')),
    Trial("where-without-condition", "default-invalid", stated(NO_CONDITION),
          said("add one of placed_on", "set =", "placed_on = 2025-10-23\nset =")),
    Trial("where-without-values", "default-invalid", stated(NO_VALUES),
          said("write the values as set = { column = value }", NO_VALUES, NO_VALUES + '\nset = { closure = "cap" }')),
    Trial("where-of-no-condition", "default-invalid", stated(NO_SUCH),
          said("correct mood", 'mood = "x"', 'placed_by = "FS-1"')),
    Trial("default-by-role", "default-refused", stated(OF_A_ROLE),
          said("put organisation into a where row with by_role", OF_A_ROLE,
               '[[defaults.custody.where]]\nby_role = "FS-1"\nset = { organisation = "Example (invented)" }')),
    Trial("defaults-of-results", "default-refused", stated("[defaults.results]\nvalue = 3"),
          said("or remove it", "[defaults.results]\nvalue = 3", "")),
    Trial("kind-of-feature", "feature-unusable", drawn(feature_added(SQUARE, kind="slab", name="Slab")),
          added('words = { "slab" = "…" }', "[features]", 'words = { "slab" = "paved_area" }')),
    Trial("crossed", "feature-doubtful", drawn(feature_added(CROSSED, kind="paved_area", name="Slab")),
          redrawn("redraw it")),
    Trial("no-boundary", "feature-doubtful", drawn(without_features("site_boundary")),
          lambda *_: [content(named.FEATURES, example().files[named.FEATURES].content)]),
    Trial("points-not-there", "points-unusable", drawn(points_from("locations/gps.gpx")),
          lambda *_: [content("locations/gps.gpx", waypoints(("SG-08", X, Y)))]),
    Trial("points-twice", "points-unusable", drawn(points_from("locations/gps.gpx"),
          content("locations/gps.gpx", waypoints(("SG-08", X, Y), ("SG-08", X, Y + 1e-3)))),
          lambda *_: [content("locations/gps.gpx", waypoints(("SG-08", X, Y)))]),
    Trial("zeros-lost", "id-zeros-lost", drawn(cell(named.BAGS, "RB-1", "trip_blank_id", "47101")),
          told(r"write (\S+) if")),
    Trial("zone-without-name", "zone-unknown", drawn(cell(named.DEPLOYMENTS, "0047103", "tz", "CST")), looked_up),
)  # fmt: skip
