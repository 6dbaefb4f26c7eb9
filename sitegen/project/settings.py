"""``project.toml`` as frozen records, checked by pydantic, with problems as findings."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from datetime import date
from difflib import get_close_matches
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.schema import SETTINGS_FILE, THEME_FOLDER
from sitegen.project.zones import zone
from sitegen.units import LENGTHS

_FORMS = {
    "date_type": "a date as 2025-12-31, without quotes",
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

    model_config = ConfigDict(frozen=True, extra="allow", strict=True)


def _known_length(unit: str) -> str:
    if unit not in LENGTHS:
        raise ValueError(f"the unit of a length, one of {', '.join(LENGTHS)}")
    return unit


class Length(Part):
    """A length with its unit."""

    value: float
    unit: Annotated[str, AfterValidator(_known_length)]


class Limit(Part):
    """A limit that overrides a default: value, unit, source and kind."""

    value: float
    unit: str = ""
    source: str = Field(min_length=1)
    kind: Literal["regulation", "method", "plan", "practice"] = "plan"


def _plain_date(value: object) -> object:
    try:
        return date.fromisoformat(value) if isinstance(value, str) else value
    except ValueError:
        raise ValueError(_FORMS["date_type"]) from None


Day = Annotated[date, BeforeValidator(_plain_date)]


def _known_zone(name: str) -> str:
    if zone(name) is None:
        raise ValueError("the name of an IANA time zone, such as America/Chicago")
    return name


class ProjectPart(Part):
    """Who, what and when."""

    id: str = Field(min_length=1)
    title: str = Field(min_length=1)
    site: str = Field(min_length=1)
    client: str = ""
    prepared_by: str = ""
    revision: int = Field(ge=0)
    status: Literal["draft", "review", "issued", "superseded"] = "draft"
    report_date: Day
    work_plan: str = ""
    time_zone: Annotated[str, AfterValidator(_known_zone)]
    previous: str = ""
    notice: str = ""


class SpacePart(Part):
    """Coordinate reference systems."""

    crs: str
    map_crs: str = ""
    foot: Literal["international", "us_survey", ""] = ""


class PlanPart(Part):
    """What the work plan asks for."""

    locations: int | None = Field(default=None, ge=0)
    duplicate_rate: float = Field(default=0.1, ge=0, le=1)
    samplers_per_bag: int = Field(default=30, ge=1)
    depth: Length | None = None
    depth_tolerance: Length | None = None
    exposure_days_min: float = Field(default=7, ge=0)
    exposure_days_max: float = Field(default=14, ge=0)
    spacing: Length | None = None
    field_blank: Literal["bag", "day"] = "bag"


class RulesPart(Part):
    """Rules chosen by the project."""

    blank: Literal["five_times_estimate", "five_times_nondetect", "five_ten_times", "mark_only"] = "five_times_estimate"
    nondetect_display: Literal["rl", "mdl"] = "rl"
    contours: bool = False
    mean: bool = False


class LabPart(Part):
    """The laboratory and its accreditation."""

    name: str = ""
    accreditation: str = ""
    valid_from: Day | None = None
    valid_to: Day | None = None
    methods: list[str] = Field(default_factory=list)


class PublishPart(Part):
    """Who may see the output, how it is set, and whether a copy for comments goes with it."""

    level: Literal["internal", "client", "public"] = "internal"
    withhold: list[str] = Field(default_factory=list)
    paper: Literal["a4", "us-letter"] = "a4"
    narrative_docx: bool = False
    fold_out_maps: bool = False
    sheets_in_report: int = Field(default=250, ge=0)
    sheets_per_volume: int = Field(default=100, ge=1)


class BackgroundPart(Part):
    """A picture under the maps: its file, its edges in WGS 84 degrees, and its licence."""

    file: str = Field(min_length=1)
    west: float = Field(ge=-180, le=180)
    south: float = Field(ge=-85, le=85)
    east: float = Field(ge=-180, le=180)
    north: float = Field(ge=-85, le=85)
    licence: str = Field(min_length=1)


class TilesPart(Part):
    """A service of map tiles, asked over the network whenever the map is opened."""

    url: str = Field(pattern=r"^https://[^/{}\s]+/[^\s]*\{z\}[^\s]*$")
    attribution: str = Field(min_length=1)


class MapPart(Part):
    """What lies under the web map; nothing unless the project asks for it."""

    background: BackgroundPart | None = None
    tiles: TilesPart | None = None


def _theme_file(pattern: str, expected: str) -> AfterValidator:
    """Return the rule of a setting that names a file of the theme."""

    def named(path: str) -> str:
        if path and not re.fullmatch(f"{THEME_FOLDER}{pattern}", path):
            raise ValueError(expected)
        return path

    return AfterValidator(named)


_LOGO = _theme_file(r"[^/\\]+\.(png|jpe?g|webp)", "a PNG, JPEG or WebP picture in theme/, such as theme/logo.png")
_STYLESHEET = _theme_file(r"[^/\\]+\.css", "a stylesheet in theme/, such as theme/look.css")
_PAGE = _theme_file(
    r"[a-z0-9][a-z0-9_-]{0,59}\.md",
    "a Markdown file in theme/ whose name is of lower-case letters, digits and hyphens, such as theme/about-us.md",
)


class ThemePart(Part):
    """The project's own look: a logo with the words that stand for it, a stylesheet, and further pages."""

    logo: Annotated[str, _LOGO] = ""
    logo_alt: str = ""
    stylesheet: Annotated[str, _STYLESHEET] = ""
    pages: list[Annotated[str, _PAGE]] = Field(default_factory=list)


class SignoffPart(Part):
    """Roles that must sign before issue."""

    roles_required: list[str] = Field(default_factory=list)


RoleFunction = Literal[
    "crew", "carrier", "laboratory", "project_lead", "reviewer", "licensed_reviewer", "client", "owner", "authority"
]
"""What a role does, as the settings may state it; a report without role codes names the function instead."""


class ArchivePart(Part):
    """How long the archive is kept, when that is looked at again, and who may see it.

    The archive holds every input, so it is internal unless the project says otherwise.
    ``private_access`` is the word that stands on the separate bag of private files.
    """

    retention: str = ""
    review_on: Day | None = None
    access: Literal["internal", "client", "public"] = "internal"
    private_access: str = Field(default="restricted", min_length=1)


class FilePart(Part):
    """How one file departs from UTF-8 with commas."""

    encoding: str = "utf-8"
    delimiter: Literal[",", ";", "\t", "|"] = ","


class Settings(Part):
    """The whole of ``project.toml``."""

    project: ProjectPart
    space: SpacePart
    plan: PlanPart = PlanPart()
    limits: dict[str, Limit] = Field(default_factory=dict)
    rules: RulesPart = RulesPart()
    lab: LabPart = LabPart()
    publish: PublishPart = PublishPart()
    map: MapPart = MapPart()
    theme: ThemePart = ThemePart()
    signoff: SignoffPart = SignoffPart()
    roles: dict[str, RoleFunction] = Field(default_factory=dict)
    archive: ArchivePart = ArchivePart()
    files: dict[str, FilePart] = Field(default_factory=dict)

    def unknown_keys(self) -> Iterator[tuple[str, str]]:
        """Yield (dotted key, nearest known key or "") for keys that the format lacks."""
        yield from _unknown(self, "")


def _unknown(part: Part, prefix: str) -> Iterator[tuple[str, str]]:
    known = list(type(part).model_fields)
    free = [name for name in known if name not in part.model_fields_set]
    for name in part.model_extra or {}:
        if not name.startswith("x_"):
            nearest = get_close_matches(name, free, n=1, cutoff=0.6)
            yield f"{prefix}{name}", f"{prefix}{nearest[0]}" if nearest else ""
    for name in known:
        value = getattr(part, name)
        if isinstance(value, Part):
            yield from _unknown(value, f"{prefix}{name}.")


def read_settings(content: bytes) -> tuple[Settings | None, list[Finding]]:
    """Read ``project.toml``; return the settings (None if unusable) and findings."""
    try:
        text = content.decode("utf-8-sig")
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # not UTF-8, not TOML, or a number of thousands of digits
        return None, [_unreadable(error)]
    try:
        settings = Settings.model_validate(data)
    except ValidationError as error:
        return None, [_invalid(problem, text) for problem in error.errors()]
    return settings, [_unknown_key(key, near, text) for key, near in settings.unknown_keys()]


def _unreadable(error: Exception) -> Finding:
    line = re.search(r"line (\d+)", str(error))
    return Finding(
        "settings-unreadable",
        Severity.STOP,
        "project.toml",
        Where(SETTINGS_FILE, int(line[1]) if line else None),
        f"text that is not TOML in UTF-8 ({error})",
        "a TOML 1.0 file",
        "correct that line",
    )


def _invalid(problem: Mapping[str, Any], text: str) -> Finding:
    key = ".".join(str(part) for part in problem["loc"])
    missing = problem["type"] == "missing"
    found = "nothing" if missing else repr(problem["input"])
    return Finding(
        "setting-missing" if missing else "setting-invalid",
        Severity.STOP,
        key,
        Where(SETTINGS_FILE, line_of(key, text), key),
        found if len(found) <= 80 else found[:77] + "…",
        _expected(problem),
        f"write {key} in {SETTINGS_FILE}" if missing else f"correct {key}",
    )


def _expected(problem: Mapping[str, Any]) -> str:
    if problem["type"] in _FORMS:
        return _FORMS[problem["type"]]
    message: str = problem["msg"].removeprefix("Value error, ")
    return "a value" if problem["type"] == "missing" else message[0].lower() + message[1:]


def _unknown_key(key: str, nearest: str, text: str) -> Finding:
    hint = f"rename it to {nearest}" if nearest else "remove it, or begin its name with x_"
    return Finding(
        "setting-unknown",
        Severity.NOTE,
        key,
        Where(SETTINGS_FILE, line_of(key, text), key),
        f"the key {key}",
        "a key of the format",
        hint,
    )


def line_of(key: str, text: str) -> int | None:
    """Find the line of a dotted key, or of the inline table that holds it; None if it is not there."""
    table, _, name = key.rpartition(".")
    current = ""
    for number, line in enumerate(text.splitlines(), start=1):
        header = re.match(r"\s*\[+([^\]]+)\]", line)
        if header:
            current = header[1].strip()
        elif current == table and re.match(rf"\s*\"?{re.escape(name)}\"?\s*=", line):
            return number
    return line_of(table, text) if "." in table else None
