"""``project.toml`` as frozen records, checked by pydantic, with problems as findings."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import date
from difflib import get_close_matches
from itertools import islice
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, ValidationInfo, field_validator

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.limits import COORDINATE, LENGTH, LIST, REVISION, SETTING_LIMIT, SPARE_SAMPLERS, TOLD
from sitegen.project.schema import SETTINGS_FILE
from sitegen.project.settingkinds import (
    DATE_FORM,
    Count,
    DateForm,
    Day,
    Days,
    Encoding,
    FilePath,
    Id,
    LengthUnit,
    Logo,
    Name,
    Sentence,
    Stylesheet,
    System,
    SystemOrNone,
    Text,
    ThemePage,
    Zone,
    within,
)
from sitegen.project.tomltext import Excess, read_toml
from sitegen.voice import worded

_FORMS = {
    "date_type": DATE_FORM,
    "model_type": 'a table such as { value = 3.0, unit = "ft" }',
    "list_type": 'a list, as in ["one", "two"]',
    "string_type": 'text in quotes, as in "text"',
    "int_type": "a whole number without quotes",
    "float_type": "a number without quotes, with a point for decimals",
    "bool_type": "true or false, without quotes",
}
"""What a setting of each type looks like, by the type of pydantic's error."""


class Part(BaseModel):
    """A table of the settings file. Unknown keys are kept aside, to be told."""

    model_config = ConfigDict(frozen=True, extra="allow", strict=True, allow_inf_nan=False)


class Length(Part):
    """A length with its unit."""

    value: Annotated[float, within(LENGTH)]
    unit: LengthUnit


class Limit(Part):
    """A limit that overrides a default: value, unit, source and kind."""

    value: Annotated[float, within(SETTING_LIMIT)]
    unit: Id = ""
    source: Sentence = Field(min_length=1)
    kind: Literal["regulation", "method", "plan", "practice"] = "plan"


class ProjectPart(Part):
    """Who, what and when."""

    id: Id = Field(min_length=1)
    title: Name = Field(min_length=1)
    site: Name = Field(min_length=1)
    client: Name = ""
    prepared_by: Name = ""
    revision: Annotated[int, within(REVISION)]
    status: Literal["draft", "review", "issued", "superseded"] = "draft"
    report_date: Day
    work_plan: Name = ""
    time_zone: Zone
    previous: FilePath = ""
    earlier: list[FilePath] = Field(default_factory=list, max_length=LIST.value)
    round: Id = ""
    notice: Text = ""


class SpacePart(Part):
    """Coordinate reference systems."""

    crs: System
    map_crs: SystemOrNone = ""
    foot: Literal["international", "us_survey", ""] = ""


class GridPart(Part):
    """A regular grid of points within the site boundary.

    It begins half a spacing inside the south-west corner of the box around the boundary. ``rotation_deg``
    turns it clockwise from north about that point; ``shift_east`` and ``shift_north`` move it. Without a
    spacing of its own it has the plan's.
    """

    pattern: Literal["square", "triangular"] = "square"
    spacing: Length | None = None
    rotation_deg: float = Field(default=0.0, ge=-360, le=360)
    shift_east: Length | None = None
    shift_north: Length | None = None


class AlongPart(Part):
    """Targeted points along a line of the site's features, by its name: a sewer, or the flow of groundwater.

    ``side`` is that of the offset, as seen on the way from the line's first vertex to its last.
    """

    feature: Name = Field(min_length=1)
    spacing: Length
    offset: Length | None = None
    side: Literal["right", "left", "both"] = "right"
    rationale: Text = ""


class AroundPart(Part):
    """Targeted points on a ring around a feature, by its name: a tank, or a suspected source."""

    feature: Name = Field(min_length=1)
    distance: Length
    points: Annotated[int, Field(ge=1, le=100)]
    rationale: Text = ""


class PlacePart(Part):
    """A background point where the plan puts it, in the project's own system."""

    easting: Annotated[float, within(COORDINATE)]
    northing: Annotated[float, within(COORDINATE)]
    rationale: Text = ""


class KeepOffPart(Part):
    """How far proposed points keep from what is drawn; where none is stated, the limits of the project apply."""

    buildings: Length | None = None
    utilities: Length | None = None
    water: Length | None = None
    boundary: Length | None = None


class PlanPart(Part):
    """What the work plan asks for."""

    locations: Count | None = None
    duplicate_rate: float = Field(default=0.1, ge=0, le=1)
    samplers_per_bag: Count = Field(default=30, ge=1)
    depth: Length | None = None
    depth_tolerance: Length | None = None
    exposure_days_min: Days = 7
    exposure_days_max: Days = 14
    spacing: Length | None = None
    standards: list[Sentence] = Field(default_factory=list, max_length=LIST.value)
    field_blank: Literal["bag", "day"] = "bag"
    least_duplicates: Count = 0
    field_blanks: Annotated[int, within(SPARE_SAMPLERS)] = 0
    spares: Annotated[int, within(SPARE_SAMPLERS)] = 0
    id_prefix: Id = "SG-"
    placing_from: Day | None = None
    placing_to: Day | None = None
    retrieving_from: Day | None = None
    retrieving_to: Day | None = None
    closed_days: list[Day] = Field(default_factory=list, max_length=LIST.value)
    grid: GridPart | None = None
    along: list[AlongPart] = Field(default_factory=list, max_length=LIST.value)
    around: list[AroundPart] = Field(default_factory=list, max_length=LIST.value)
    background: list[PlacePart] = Field(default_factory=list, max_length=LIST.value)
    keep_off: KeepOffPart = KeepOffPart()


class RoundPart(Part):
    """A round of the survey, or a supplement to one: more points that an addendum asks for.

    ``of`` is the round that a supplement belongs to. ``locations`` counts the points that its own plan asks
    for, of every medium; the days are those planned for its field work.
    """

    id: Id = Field(min_length=1)
    title: Name = ""
    kind: Literal["round", "supplement"] = "round"
    of: Id = ""
    season: Name = ""
    addendum: Name = ""
    locations: Count | None = None
    placing_from: Day | None = None
    placing_to: Day | None = None
    retrieving_from: Day | None = None
    retrieving_to: Day | None = None


class RulesPart(Part):
    """Rules chosen by the project."""

    blank: Literal["five_times_estimate", "five_times_nondetect", "five_ten_times", "mark_only"] = "five_times_estimate"
    nondetect_display: Literal["rl", "mdl"] = "rl"
    contours: bool = False
    mean: bool = False


class ScreeningPart(Part):
    """The land use whose screening levels apply to indoor air, and the document that says so; "" for all on record."""

    land_use: Name = ""
    source: Sentence = ""


class LabPart(Part):
    """The laboratory and its accreditation."""

    name: Name = ""
    accreditation: Name = ""
    valid_from: Day | None = None
    valid_to: Day | None = None
    methods: list[Sentence] = Field(default_factory=list, max_length=LIST.value)


class PublishPart(Part):
    """Who may see the output, how it is set, and whether a copy for comments goes with it."""

    level: Literal["internal", "client", "public"] = "internal"
    withhold: list[Id] = Field(default_factory=list, max_length=LIST.value)
    reviewer_pages: bool | None = None
    paper: Literal["a4", "us-letter"] = "a4"
    narrative_docx: bool = False
    fold_out_maps: bool = False
    lists_in_report: bool = True
    sheets_in_report: Count = 250
    sheets_per_volume: Count = Field(default=100, ge=1)
    workbook_qualifiers: Literal["column", "row"] = "column"
    spelling: Literal["us", "uk"] | None = None
    language: Literal["en", "es"] = "en"


class BackgroundPart(Part):
    """A picture under the maps: its file, its edges in WGS 84 degrees, and its licence."""

    file: FilePath = Field(min_length=1)
    west: float = Field(ge=-180, le=180)
    south: float = Field(ge=-85, le=85)
    east: float = Field(ge=-180, le=180)
    north: float = Field(ge=-85, le=85)
    licence: Sentence = Field(min_length=1)


class TilesPart(Part):
    """A service of map tiles, asked over the network whenever the map is opened."""

    url: Sentence = Field(pattern=r"^https://[^/{}\s]+/[^\s]*\{z\}[^\s]*$")
    attribution: Sentence = Field(min_length=1)


class MapPart(Part):
    """What lies under the web map; nothing unless the project asks for it."""

    background: BackgroundPart | None = None
    tiles: TilesPart | None = None


class ThemePart(Part):
    """The project's own look: a logo with the words that stand for it, a stylesheet, and further pages."""

    logo: Logo = ""
    logo_alt: Sentence = ""
    stylesheet: Stylesheet = ""
    pages: list[ThemePage] = Field(default_factory=list, max_length=LIST.value)


class SignoffPart(Part):
    """Roles that must sign before issue."""

    roles_required: list[Id] = Field(default_factory=list, max_length=LIST.value)


RoleFunction = Literal[
    "crew", "carrier", "laboratory", "project_lead", "reviewer", "licensed_reviewer", "client", "owner", "authority"
]
"""What a role does, as the settings may state it; a report without role codes names the function instead."""


class ArchivePart(Part):
    """How long the archive is kept, when that is looked at again, and who may see it.

    The archive holds every input, so it is internal unless the project says otherwise.
    ``private_access`` is the word that stands on the separate bag of private files.
    """

    retention: Sentence = ""
    review_on: Day | None = None
    access: Literal["internal", "client", "public"] = "internal"
    private_access: Id = Field(default="restricted", min_length=1)


class FilePart(Part):
    """How one file departs from UTF-8 with commas, ISO dates and plain decimal numbers."""

    encoding: Encoding = "utf-8"
    delimiter: Literal[",", ";", "\t", "|"] = ","
    dates: DateForm = ""
    decimal: Literal[".", ","] = "."
    thousands: Literal["", ",", ".", " ", "'"] = ""

    @field_validator("thousands")
    @classmethod
    def _apart(cls, sign: str, info: ValidationInfo) -> str:
        if sign and sign == info.data.get("decimal"):
            raise ValueError(f"a sign other than the decimals', which is {sign!r}")
        return sign


class DerivePart(Part):
    """What is read off other rows of the folder where a cell is blank; nothing unless the project asks for it."""

    serial_ranges: bool = False
    samplers: bool = False
    return_bags: bool = False
    bags: bool = False
    custody: bool = False


class FeaturesPart(Part):
    """Where the site's features stand, and what their file calls the properties of the format.

    ``layers`` are those of a GeoPackage or zip that has several. ``kind``, ``name`` and ``public`` are the
    properties that hold these, ``words`` what the file's own words stand for. ``encoding`` is that of the
    texts of a shapefile which does not say it.
    """

    files: list[FilePath] = Field(default_factory=list, max_length=LIST.value)
    layers: list[Name] = Field(default_factory=list, max_length=LIST.value)
    kind: Name = Field(default="kind", min_length=1)
    name: Name = Field(default="name", min_length=1)
    public: Name = Field(default="public", min_length=1)
    words: dict[Name, Name] = Field(default_factory=dict, max_length=LIST.value)
    encoding: Encoding = ""


PointColumn = Literal["location_id", "longitude", "latitude", "easting", "northing"]
"""What a file of measured points gives of each: its id, and longitude and latitude or easting and northing."""


class PointsPart(Part):
    """The file of measured positions, GPX or CSV, and which of its columns holds what."""

    file: FilePath = ""
    columns: dict[PointColumn, Name] = Field(default_factory=dict)


class Settings(Part):
    """The whole of ``project.toml``."""

    project: ProjectPart
    space: SpacePart
    features: FeaturesPart = FeaturesPart()
    points: PointsPart = PointsPart()
    plan: PlanPart = PlanPart()
    rounds: list[RoundPart] = Field(default_factory=list, max_length=LIST.value)
    limits: dict[Name, Limit] = Field(default_factory=dict)
    rules: RulesPart = RulesPart()
    screening: ScreeningPart = ScreeningPart()
    lab: LabPart = LabPart()
    publish: PublishPart = PublishPart()
    map: MapPart = MapPart()
    theme: ThemePart = ThemePart()
    signoff: SignoffPart = SignoffPart()
    roles: dict[Id, RoleFunction] = Field(default_factory=dict)
    archive: ArchivePart = ArchivePart()
    defaults: dict[Id, dict[Id, Any]] = Field(default_factory=dict)
    derive: DerivePart = DerivePart()
    files: dict[FilePath, FilePart] = Field(default_factory=dict)

    def unknown_keys(self) -> Iterator[tuple[str, list[str]]]:
        """Yield each key that the format lacks, dotted, with the known ones that are free beside it."""
        yield from _unknown(self, "")


def _unknown(part: Part, prefix: str) -> Iterator[tuple[str, list[str]]]:
    known = list(type(part).model_fields)
    free = [name for name in known if name not in part.model_fields_set]
    for name in part.model_extra or {}:
        if not name.startswith("x_"):
            yield f"{prefix}{name}", free
    for name in known:
        value = getattr(part, name)
        for at, one in enumerate(value if isinstance(value, list) else [value]):
            if isinstance(one, Part):
                yield from _unknown(one, f"{prefix}{name}.{at}." if isinstance(value, list) else f"{prefix}{name}.")


def read_settings(content: bytes) -> tuple[Settings | None, list[Finding]]:
    """Read ``project.toml``; return the settings (None if unusable) and findings."""
    try:
        text, data = read_toml(content)
    except ValueError as error:  # not UTF-8, not TOML, a number of thousands of digits, or more than is read
        return None, [_unreadable(error)]
    try:
        settings = Settings.model_validate(data)
    except ValidationError as error:
        return None, capped((_invalid(problem, text) for problem in error.errors()), error.error_count())
    unknown = settings.unknown_keys()
    told = [_unknown_key(key, free, text) for key, free in islice(unknown, TOLD.value)]
    return settings, capped(told, len(told) + sum(1 for _ in unknown))


def capped(findings: Iterable[Finding], count: int) -> list[Finding]:
    """Return the first of ``count`` findings about one file, and one more that counts the rest."""
    told = list(islice(findings, TOLD.value))
    if count > len(told):
        where = Where(told[-1].where.file)
        more = worded("{count:,} more settings of this kind", count=count - len(told))
        told.append(replace(told[-1], subject=f"{where.file}+more", where=where, found=more, count=count - len(told)))
    return told


def _unreadable(error: Exception) -> Finding:
    if isinstance(error, Excess):
        where = Where(SETTINGS_FILE, error.line, error.key or None)
        do = "remove entries that are not settings of the format"
        return Finding("settings-unreadable", Severity.STOP, "project.toml", where, error.found, error.expected, do)
    line = re.search(r"line (\d+)", str(error))
    return Finding(
        "settings-unreadable",
        Severity.STOP,
        "project.toml",
        Where(SETTINGS_FILE, int(line[1]) if line else None),
        f"text that is not TOML in UTF-8 ({error})",
        "a TOML 1.0 file",
        "correct this line",
    )


def _invalid(problem: Mapping[str, Any], text: str) -> Finding:
    key = ".".join(str(part) for part in problem["loc"])
    missing = problem["type"] == "missing"
    given = problem["input"]
    found = "nothing" if missing else given.isoformat() if isinstance(given, date) else repr(given)
    return Finding(
        "setting-missing" if missing else "setting-invalid",
        Severity.STOP,
        key,
        Where(SETTINGS_FILE, line_of(key, text), key),
        found if len(found) <= 80 else found[:77] + "…",
        _expected(problem),
        f"write {key} in {SETTINGS_FILE}" if missing else problem.get("ctx", {}).get("do", f"correct {key}"),
    )


def _expected(problem: Mapping[str, Any]) -> str:
    if problem["type"] in _FORMS:
        return _FORMS[problem["type"]]
    message: str = problem["msg"].removeprefix("Value error, ")
    return "a value" if problem["type"] == "missing" else message[0].lower() + message[1:]


def _unknown_key(key: str, free: list[str], text: str) -> Finding:
    table, point, name = key.rpartition(".")
    nearest = get_close_matches(name, free, n=1, cutoff=0.6)
    hint = (
        worded("rename it to {name}", name=f"{table}{point}{nearest[0]}")
        if nearest
        else worded("remove it, or begin its name with x_")
    )
    return Finding(
        "setting-unknown",
        Severity.NOTE,
        key,
        Where(SETTINGS_FILE, line_of(key, text), key),
        worded("the key {key}", key=key),
        worded("a key of the format"),
        hint,
    )


def line_of(key: str, text: str) -> int | None:
    """Find the line of a dotted key, or of the inline table that holds it; None if it is not there.

    Entries of a list of tables are counted from 0: ``plan.along.0.spacing``, or ``plan.along.0`` for its head.
    """
    table, _, name = key.rpartition(".")
    current = ""
    entries: Counter[str] = Counter()
    for number, line in enumerate(text.splitlines(), start=1):
        header = re.match(r"\s*(\[+)([^\]]+)\]", line)
        if header:
            current = re.sub("[\"']", "", header[2]).strip()
            if header[1] == "[[":
                entries[current] += 1
                current = f"{current}.{entries[current] - 1}"
                if current == key:
                    return number
        elif current == table and re.match(rf"\s*\"?{re.escape(name)}\"?\s*=", line):
            return number
    return line_of(table, text) if "." in table else None
