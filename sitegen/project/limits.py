"""How much of anything the program reads: sizes, lengths and ranges, each with its reason.

They keep a slip or a hostile file from costing more than a message. All of them are looked at
when a folder is read, before anything is computed; none cuts anything off in silence. Limits that
a survey's data are judged by are others (:mod:`sitegen.compute.limits`). Where a reason names no
standard, the figure is a project default, far above what surveys have, with no published source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bound:
    """The most of something that is read: ``name`` in words that follow "at most N unit in", and why."""

    name: str
    value: int
    unit: str
    reason: str

    @property
    def text(self) -> str:
        """The bound with its unit.

        >>> Bound("a table", 1_000_000, "rows", "").text
        '1,000,000 rows'
        """
        return f"{self.value:,} {self.unit}"

    @property
    def at_most(self) -> str:
        """The bound as a message says what was expected.

        >>> Bound("site features", 100_000, "vertices in all features", "").at_most
        'at most 100,000 vertices in all features'
        """
        return f"at most {self.text}"


@dataclass(frozen=True, slots=True)
class Range:
    """The numbers that a column or a setting may hold, both ends included, and why.

    >>> Range(1e-6, 1e6, "").text
    '1e-6 to 1,000,000'
    """

    low: float
    high: float
    reason: str
    do: str = "correct the number from its source"

    @property
    def text(self) -> str:
        """Both ends, as a person reads them."""
        return f"{_plain(self.low)} to {_plain(self.high)}"


def _plain(number: float) -> str:
    if number == int(number) and abs(number) < 1e10:
        return f"{number:,.0f}"
    return re.sub(r"e([+-])0*", lambda sign: "e" + sign[1].strip("+"), f"{number:g}")


# --- sizes ---------------------------------------------------------------------------------

FILE = Bound("any file", 512 * 1024 * 1024, "bytes", "files are kept in memory while they are checked")
TABLE_ROWS = Bound("a table", 1_000_000, "rows", "1,000 samplers with 100 compounds give 100,000 results")
TABLE_CELLS = Bound(
    "a table, with blank ones", 15_000_000, "cells", "12 million cells of results take 1.5 GB of memory"
)
TABLE_COLUMNS = Bound("a table of the format", 500, "columns", "the longest has 28, plus columns `x_`")
SHEET_COLUMNS = Bound("a laboratory's file", 16_384, "columns", "as many as a spreadsheet has (ECMA-376)")
CELL = Bound("any cell", 32_767, "characters", "the limit of a spreadsheet cell")
PARTS = Bound("a workbook", 5_000, "parts", "a part is a sheet, a picture or a list")
UNPACKED = Bound(
    "a workbook, unpacked", 128 * 1024 * 1024, "bytes", "three million cells; reading more takes a gigabyte"
)
SHEET_CELLS = Bound("a sheet of a workbook", 5_000_000, "cells", "a sheet is laid out in full in memory")
SHEET_ROWS = Bound("a sheet of a workbook, with blank ones", 1_048_576, "rows", "as many as a spreadsheet has")
SETTINGS = Bound("`project.toml` or a mapping file", 1_000_000, "bytes", "the example's has 3,000")
SETTINGS_KEYS = Bound("`project.toml` or a mapping file", 10_000, "keys and values", "the example's has 60")
SETTINGS_DEPTH = Bound("`project.toml` or a mapping file", 10, "tables inside one another", "the format has 4")
KEY = Bound("a key of `project.toml` or a mapping file", 300, "characters", "as for a name")
WHOLE = Bound("a whole number in them", 63, "bits and a sign", "as in TOML 1.0")
SERIALS = Bound("the ranges of `field/samplers.csv`", 100_000, "serials in all", "a survey has hundreds of samplers")
TOLD = Bound("one kind of finding in a file or column", 20, "findings, the rest counted", "the cause is corrected once")

# --- lengths -------------------------------------------------------------------------------

ID = Bound("an id or a code", 100, "characters", "ids name pages, files and keys of findings")
NAME = Bound("a name or title", 300, "characters", "a name has one line of a page or a legend")
PATH = Bound("a path", 1_000, "characters", "systems refuse paths of some thousand characters")
PATH_PART = Bound("a part of a path", 255, "bytes", "the longest name that usual file systems have")
SENTENCE = Bound("a source, licence or other sentence", 2_000, "characters", "half a page")
TEXT = Bound("a remark or other text", 10_000, "characters", "three pages of print")
IDS = Bound("a list of ids in a cell", 30_000, "characters", "3,700 points, within the limit of a spreadsheet cell")
LIST = Bound("a list in `project.toml`", 200, "entries", "roles, methods and pages are a few")

LENGTHS = (ID, NAME, PATH, PATH_PART, SENTENCE, TEXT, IDS, LIST)
SIZES = (
    FILE, TABLE_ROWS, TABLE_CELLS, TABLE_COLUMNS, SHEET_COLUMNS, CELL, PARTS, UNPACKED, SHEET_CELLS, SHEET_ROWS,
    SETTINGS, SETTINGS_KEYS, SETTINGS_DEPTH, KEY, WHOLE, SERIALS, TOLD,
)  # fmt: skip

# --- shapes, texts and earlier revisions ---------------------------------------------------

FEATURES_BYTES = Bound("site features", 16 << 20, "bytes", "twice what the vertices below take")
FEATURES = Bound("site features", 2_000, "features", "a site plan has hundreds")
VERTICES = Bound("site features", 100_000, "vertices in all features", "five outlines of the finest kind")
SHAPE_VERTICES = Bound("a site feature", 20_000, "vertices in one feature", "an outline of 1 km at every 5 cm")
SHAPE_PARTS = Bound("a site feature", 2_000, "parts in one feature", "each part could be a separate feature")
MEETINGS = Bound("site features", 500_000, "pairs of edges whose boxes overlap", "2 s of work on one shape")
CROSSINGS = Bound("site features", 500, "crossings in all shapes that cross themselves", "seconds of mending")
PROPERTIES = Bound("a site feature", 100, "properties of one feature", "the format knows ten")
PROPERTY_CHARS = Bound("a site feature", 2_000, "characters in a property", "it has a name and remarks, no report")
FEATURE_NAME = Bound("a site feature", 100, "characters in a name", "a name is written on the map")
PROPERTY_DEPTH = Bound("a site feature", 3, "levels of lists in a property", "no property of the format is a list")
PROPERTY_NUMBER = Bound("a site feature", 2**53 - 1, "as a whole number", "larger ones are not exact (RFC 8259, 6)")
FEATURE_TAGS = Bound("a KML or GPX file", 200_000, "XML tags", "a walked track has three for each of its places")
FEATURE_LEVELS = Bound("a KML or GPX file", 60, "XML elements inside one another", "folders are nested in a few")
FEATURE_PARTS = Bound("a zip of shapefiles", 1_000, "files", "a shapefile has four to seven")
FEATURE_STEPS = Bound("a GeoPackage", 20_000_000, "steps of its database", "reading what the bounds allow takes fewer")
SYSTEM_CHARS = Bound("a coordinate system", 20_000, "characters of its description", "the longest have 3,000")
SECTION_BYTES = Bound("a text", 200_000, "bytes in one text", "seventy printed pages")
ALL_BYTES = Bound("the texts", 1_000_000, "bytes in all texts", "a narrative of 350 printed pages")
BLOCK_CHARS = Bound("a text", 20_000, "characters without a blank line", "a paragraph of six printed pages")
WORD_CHARS = Bound("a text", 1_000, "characters in a word", "longer than any web address intended to be read")
HEADING_CHARS = Bound("a text", 200, "characters in a heading", "it is a line of the table of contents")
LEVELS = Bound("a text", 12, "levels of quotes, lists and emphasis", "six lists within each other")
MEMBER_BYTES = Bound("a zipped revision", 64 << 20, "bytes in one file", "a photograph or scan is smaller")
TOTAL_BYTES = Bound("a zipped revision", 512 << 20, "bytes in all", "a project's files are kept in memory")
INDEX_BYTES = Bound("a zipped revision or archive", 8 << 20, "bytes in the list of files", "enough for 50,000 files")
BAG_MEMBER_BYTES = Bound("a zipped archive", 512 << 20, "bytes in one file", "as any file of a project")
BAG_BYTES = Bound("a zipped archive", 8 << 30, "bytes in all", "a minute of work at 150 MB/s")
INFO_BYTES = Bound("an archive", 1 << 20, "bytes in bag-info.txt or bagit.txt", "it is a page of text")
LIST_BYTES = Bound("an archive", 64 << 20, "bytes in a manifest or fetch.txt", "enough for 300,000 files by SHA-512")
LIST_LINES = Bound("an archive", 1_000_000, "lines in all manifests and fetch.txt", "they are kept in memory")
RECORD_BYTES = Bound("an archive", 16 << 20, "bytes in data/provenance.json", "enough for 50,000 input files")
EXPORT_BYTES = Bound("an export of the field form", 16 << 20, "bytes", "1,000 samplers with every change take 6 MB")
EXPORT_ROWS = Bound("an export of the field form", 100_000, "rows of a table, or changes", "1,000 samplers: 25,000")
EXPORTS = Bound("`records/field/`, with those given", 500, "exports", "ten devices for fifty days")

SHAPES = (
    FEATURES_BYTES, FEATURES, VERTICES, SHAPE_VERTICES, SHAPE_PARTS, MEETINGS, CROSSINGS, PROPERTIES, PROPERTY_CHARS,
    FEATURE_NAME, PROPERTY_DEPTH, PROPERTY_NUMBER, FEATURE_TAGS, FEATURE_LEVELS, FEATURE_PARTS, FEATURE_STEPS,
    SYSTEM_CHARS,
)  # fmt: skip
PROSE = (SECTION_BYTES, ALL_BYTES, BLOCK_CHARS, WORD_CHARS, HEADING_CHARS, LEVELS)
ARCHIVES = (
    MEMBER_BYTES, TOTAL_BYTES, INDEX_BYTES, BAG_MEMBER_BYTES, BAG_BYTES, INFO_BYTES, LIST_BYTES, LIST_LINES,
    RECORD_BYTES,
)  # fmt: skip
EXPORTED = (EXPORT_BYTES, EXPORT_ROWS, EXPORTS)
BOUNDS = (*SIZES, *LENGTHS, *SHAPES, *PROSE, *ARCHIVES, *EXPORTED)

# --- ranges --------------------------------------------------------------------------------

_DIVIDES = "more than zero, because it is a divisor"
_NO_ZERO = (
    "for a non-detect leave value blank, with detected = no and the limit in rl; "
    "otherwise correct value and result_text together from their source"
)

COUNT = Range(0, 1e6, "counted items")
SPARE_SAMPLERS = Range(0, 5_000, "blanks and spares of one survey are a few")
ORDER = Range(-1e6, 1e6, "a place in an order")
COORDINATE = Range(-1e8, 1e8, "the earth is 4e7 m around, and false eastings reach 3e7")
LONGITUDE = Range(-180, 180, "degrees", "correct it: perhaps it is a latitude or a projected coordinate")
LATITUDE = Range(-90, 90, "degrees", "correct it: perhaps it is a longitude or a projected coordinate")
ACCURACY_M = Range(0, 1e5, "a position of lower accuracy is not usable")
THICKNESS_IN = Range(0, 1e3, "no slab is thicker than 25 m")
DEPTH = Range(0, 1e3, "no sampler is placed deeper")
DIAMETER_IN = Range(0, 1e3, "no hole is wider than 25 m")
MOVED_FT = Range(0, 1e5, "a point further away is a different point")
RAIN_MM = Range(0, 1e5, "rainfall cannot be negative")
WEATHER_C = Range(-150, 150, "readings in Fahrenheit are reported as implausible, not here")
PRESSURE_HPA = Range(0, 2e3, "readings in inches are reported as implausible, not here")
DISTANCE_KM = Range(0, 25e3, "no position on earth is farther than 20,040 km")
MOLAR_MASS = Range(1, 1e5, "hydrogen, the lightest element, has 1.008")
DILUTION = Range(1e-6, 1e9, _DIVIDES)
AMOUNT = Range(1e-12, 1e12, "from below any detection to a kilogram; never zero", _NO_ZERO)
LIMIT_OF_AMOUNT = Range(1e-12, 1e12, "from below any detection to a kilogram; never zero")
DETECTION_LIMIT = Range(0, 1e12, "from zero to a kilogram")
CONTROL = Range(-1e9, 1e12, "percentages or amounts; a recovery less a background may be negative")
RATE_ML_MIN = Range(1e-6, 1e6, _DIVIDES)
RATE_C = Range(-90, 70, "temperatures that samplers are exposed to")
DAYS = Range(0, 3650, "ten years")
UNCERTAINTY_PCT = Range(0, 1e3, "a rate of higher uncertainty is not usable")
LEVEL = Range(1e-12, 1e12, _DIVIDES)
FACTOR = Range(1e-12, 1e12, _DIVIDES)
UNIT_FACTOR = Range(1e-18, 1e18, "from any unit of mass or concentration")
REVISION = Range(0, 9_999, "a number counted from 0")
LENGTH = Range(0, 1e6, "of a depth or spacing, in its unit")
TOTAL = Range(0, 1e18, "of amounts as a laboratory reports them")
SETTING_LIMIT = Range(-1e9, 1e9, "limits are days, metres, percentages and counts")

DAY_YEARS = range(1980, 2108)
"""Years of a day in ``project.toml``: the report's day dates the files in a zip, which knows no others."""
