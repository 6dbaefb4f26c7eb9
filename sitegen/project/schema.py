"""The folder format: record types, and the words that more than one table uses.

The tables themselves stand in :mod:`sitegen.project.tables`. Together the two are the
one place that knows the format; the template, the format page and the data dictionary
are made from them or tested against them.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

from sitegen.findings.problems import Where
from sitegen.project.limits import Bound, Range


class Kind(Enum):
    """What a column holds. ``ID`` and ``IDS`` are text always: leading zeros count."""

    ID = "id"
    IDS = "list of ids"
    TEXT = "text"
    NUMBER = "number"
    INTEGER = "whole number"
    TIME = "local time"
    DATE = "date"
    FLAG = "yes or no"
    CHOICE = "choice"
    PATH = "path"
    CAS = "CAS number"


class Presence(Enum):
    """Whether a file must be there: required, expected (its absence is told) or optional."""

    REQUIRED = "required"
    EXPECTED = "expected"
    OPTIONAL = "optional"


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table: name, kind, meaning, and what it may hold.

    A required column must be there and filled in; a ``needed`` one must be there, though a
    cell may be blank. ``refers`` is the table whose key the ids come from; ``zone`` is the column of the
    same row that names the time zone of a time (the project's zone if there is none). Numbers lie in
    ``range``; text of free form is no longer than ``longest``.
    """

    name: str
    kind: Kind
    meaning: str
    required: bool = False
    unit: str = ""
    choices: tuple[str, ...] = ()
    refers: str = ""
    zone: str = ""
    needed: bool = False
    range: Range | None = None
    longest: Bound | None = None


class Origin(NamedTuple):
    """The identity of a row: its file, its row as a spreadsheet counts it, and the sheet of a workbook.

    Two files, and two sheets of one workbook, have the same row numbers: a row is told by all of these.
    ``column`` is the column of a laboratory's own file that a result stands in, "" in files of the format.
    ``cells`` tells, by our column, of values that stand elsewhere than in that row and column.
    """

    file: str
    row: int
    sheet: str = ""
    column: str = ""
    cells: tuple[tuple[str, str, int, str, str], ...] = ()

    def where(self, column: str | None = None) -> Where:
        """Return the place of the row (and column) for a finding; of the tables' workbook with its sheet.

        >>> str(Origin("survey.xlsx", 5, "samplers").where())
        'survey.xlsx, row 5, sheet samplers'
        """
        alone = f"{self.sheet}!" if self.file == BOOK_FILE and self.sheet else None
        return Where(self.file, self.row, self._on_sheet(column) if column else alone)

    def cell(self, column: str) -> tuple[str, int, str]:
        """Return file, row and column of a value; a laboratory's own file names its own column and sheet.

        Each of ``cells`` is our column, then file, row, sheet and column of its value.

        >>> Origin("lab/a.xlsx", 5, "Air", "L-1").cell("value"), Origin("lab/results.csv", 5).cell("value")
        (('lab/a.xlsx', 5, 'Air!L-1'), ('lab/results.csv', 5, 'value'))
        """
        for name, file, row, sheet, theirs in self.cells:
            if name == column:
                return Origin(file, row, sheet, theirs).cell(column)
        return (self.file, self.row, self._on_sheet(self.column or column))

    def _on_sheet(self, column: str) -> str:
        """Return a column with its sheet, as a spreadsheet writes it: rows of two sheets have the same numbers."""
        return f"{self.sheet}!{column}" if self.sheet else column


def column_name(field: str) -> str:
    """Return the column of a record's field: a name that Python keeps for itself has a line after it.

    >>> column_name("class_"), column_name("rl")
    ('class', 'rl')
    """
    return field.removesuffix("_")


@dataclass(frozen=True, slots=True)
class TableSpec:
    """One table of the folder, as CSV at ``path``. ``key`` columns are unique together, if any."""

    name: str
    path: str
    presence: Presence
    key: tuple[str, ...]
    meaning: str
    columns: tuple[Column, ...]

    def column(self, name: str) -> Column:
        """Return the column called ``name``; KeyError if there is none."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)

    @property
    def book_path(self) -> str:
        """The path of a workbook that may have the table in place of the CSV file."""
        return f"{self.path.removesuffix('.csv')}.xlsx"

    @property
    def column_names(self) -> tuple[str, ...]:
        """The column names, in file order."""
        return tuple(column.name for column in self.columns)


MEDIA = ("soil_gas", "sub_slab", "crawl_space", "indoor_air", "outdoor_air")
SOIL_MEDIA = ("soil_gas", "sub_slab", "crawl_space")
AIR_MEDIA = ("indoor_air", "outdoor_air")
MEDIUM_GROUPS = {"soil": SOIL_MEDIA, "air": AIR_MEDIA}
"""Media that are judged together: soil gas with sub-slab and crawl space, apart from air."""
SURFACES = ("soil", "vegetation", "gravel", "asphalt", "concrete", "interior_slab", "other")
PAVED_SURFACES = ("asphalt", "concrete", "interior_slab")
CONDITIONS = (
    "intact",
    "cap_damaged",
    "glass_damaged",
    "water_inside",
    "soil_inside",
    "disturbed",
    "not_recovered",
)
FEATURE_KINDS = (
    "site_boundary",
    "building",
    "paved_area",
    "utility",
    "tank",
    "suspected_source",
    "well",
    "surface_water",
    "flow_line",
    "other",
)
QUALIFIERS = ("U", "J", "J+", "J-", "UJ", "R", "E", "B", "NJ")
SECTIONS = (
    "summary",
    "objectives",
    "setting",
    "conceptual_model",
    "earlier_data",
    "interpretation",
    "conclusions",
    "recommendations",
    "limitations",
)
EARLIER = "earlier"
"""The folder that holds what is read of earlier surveys, each under its own name."""
ROOT_FOLDERS = (
    "locations", "field", "lab", "reference", "text", "review", "photos", "records", "theme", "private", EARLIER,
)  # fmt: skip
PUBLISH_CLASSES = (
    "private_features",
    "uncleared_photos",
    "photo_metadata",
    "scans",
    "unknown_columns",
    "review_comments",
    "team_notes",
    "revision_changes",
    "changed_results",
    "next_points",
    "field_comments",
    "role_codes",
    "location_ids",
)
"""Classes of information that a publish level shows or leaves out, and that a project may withhold."""
SETTINGS_FILE = "project.toml"
FEATURES_FILE = "locations/features.geojson"
SECOND_LOG = "field/second/deployments.csv"
"""The field log typed a second time, where a project does so: it is compared, and nothing is computed from it."""
BOOK_FILE = "survey.xlsx"
"""The workbook that may have the tables, each on a sheet of its name."""
THEME_FOLDER = "theme/"
"""Where the project's own logo, stylesheet and pages lie."""


def text_file(name: str) -> str:
    """Return the file of a text by its name; a page of the project's own is named with its folder.

    >>> text_file("summary"), text_file("theme/about-us")
    ('text/summary.md', 'theme/about-us.md')
    """
    return f"{name}.md" if name.startswith(THEME_FOLDER) else f"text/{name}.md"
