"""The survey as read: settings, tables, site features and narrative, each with its origin."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import compress
from typing import Any, NamedTuple, TypeVar, cast

import pandas as pd
from shapely.geometry.base import BaseGeometry

from sitegen.findings.problems import Where
from sitegen.project.folder import Folder
from sitegen.project.positions import Supplied
from sitegen.project.reads import Noted, NotedTuple, note
from sitegen.project.schema import BOOK_FILE, FEATURES_FILE, Origin, TableSpec, column_name
from sitegen.project.settings import PlanPart, RulesPart, Settings
from sitegen.project.tables import NAME_OF, ROW_TYPE

R = TypeVar("R", bound=NamedTuple)


def rows(frame: pd.DataFrame, of: type[R]) -> list[R]:
    """Return a frame's rows as records of the type ``of``, in the order of the frame.

    The frame has a column for each field; ``origin`` is made of where the row stands.
    """
    fields = [name for name in of._fields if name != "origin"]
    columns: list[Iterable[object]] = [frame[column_name(name)].tolist() for name in fields]
    if "origin" in of._fields:
        columns.insert(of._fields.index("origin"), origins(frame))
    return list(map(of._make, zip(*columns, strict=True)))


def origins(frame: pd.DataFrame) -> Iterator[Origin]:
    """Yield where each row of a frame stands."""
    blank = [""] * len(frame)
    more = [frame[name].tolist() if name in frame else blank for name in ("_sheet", "_column")]
    more += [frame["_cells"].tolist()] if "_cells" in frame else []
    return map(Origin, frame["_file"].tolist(), frame["_row"].tolist(), *more)


def called(file: str, sheet: str) -> str:
    """Name a file in a sentence; the workbook of all tables with the sheet.

    >>> called("survey.xlsx", "samplers"), called("field/samplers.xlsx", "Sheet1")
    ('survey.xlsx (samplers)', 'field/samplers.xlsx')
    """
    return f"{file} ({sheet})" if file == BOOK_FILE and sheet else file


@dataclass(frozen=True, slots=True)
class Stamp:
    """The origin of a row: file, row as a spreadsheet counts it, and the file's SHA-256."""

    file: str
    row: int
    sha256: str


class Rule(NamedTuple):
    """What a cell that its file leaves blank is filled by, and ``general``: the same of many cells, without the row."""

    words: str
    general: str


class Filled(NamedTuple):
    """What was put into a cell that its file leaves blank, and by which rule; ``general`` as in :class:`Rule`."""

    text: str
    rule: str
    general: str


@dataclass(frozen=True)
class SurveyTable:
    """One table: typed columns in ``frame``, the text as received in ``received``.

    Both have the same rows. ``frame`` holds every column of the format, present in the
    file or not, a ``…_utc`` column (minutes since 1970-01-01T00:00Z) beside each time,
    and the origin in ``_file`` and ``_row``. Blank text is "", blank numbers are NaN.
    ``present`` is False where the file is absent, unreadable or lacks a key column. The file of
    the folder that has the table, or would have it, is ``file``, and ``sheet`` its sheet where that
    is a workbook; rows that a laboratory's own files give have theirs in ``_file`` and ``_sheet``.
    ``filled`` has the cells that project.toml had filled, by row (from 0) and column.
    """

    spec: TableSpec
    frame: pd.DataFrame
    received: Mapping[str, Sequence[str]]
    present: bool
    file: str = ""
    sheet: str = ""
    filled: Mapping[tuple[int, str], Filled] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Name the file of a table that comes from nowhere else."""
        if not self.file:
            object.__setattr__(self, "file", self.spec.path)

    @property
    def called(self) -> str:
        """The file, and its sheet where one workbook has all tables, as a sentence names it."""
        return called(self.file, self.sheet)

    @property
    def whole(self) -> Where:
        """The place of the table as a whole."""
        return Where(self.file, None, f"{self.sheet}!" if self.file == BOOK_FILE else None)

    @cached_property
    def raw(self) -> pd.DataFrame:
        """The text as received, with the index of ``frame``: made for who asks, and a check never does."""
        return pd.DataFrame(self.received, index=self.frame.index, dtype=object)

    @cached_property
    def filled_by_key(self) -> Mapping[str, Mapping[str, Filled]]:
        """The cells that were filled, by the key of their row and by column; nothing where the table has no key."""
        found: dict[str, dict[str, Filled]] = {}
        keys = self.frame[self.spec.key[0]].tolist() if self.filled and len(self.spec.key) == 1 else []
        for (row, column), one in self.filled.items() if keys else ():
            found.setdefault(keys[row], {})[column] = one
        return found

    @cached_property
    def rows(self) -> tuple[NamedTuple, ...]:
        """The rows as records of their own type (:mod:`sitegen.project.tables`)."""
        return tuple(rows(self.frame, ROW_TYPE[self.spec.name]))

    def kept(self, mask: pd.Series[bool]) -> SurveyTable:
        """Return the table with the rows alone that ``mask``, one truth for each, keeps."""
        received = {name: list(compress(cells, mask)) for name, cells in self.received.items()}
        new = {old: row for row, old in enumerate(compress(range(len(mask)), mask))}
        filled = {(new[row], name): one for (row, name), one in self.filled.items() if row in new}
        return replace(self, frame=self.frame[mask].reset_index(drop=True), received=received, filled=filled)

    def where(self, index: Hashable, column: str | None = None) -> Where:
        """Return the place of a row (and column) for a finding; rows are numbered from 0."""
        at = cast("int", index)
        sheet = str(self.frame["_sheet"].iloc[at]) if "_sheet" in self.frame else ""
        return Origin(str(self.frame["_file"].iloc[at]), int(self.frame["_row"].to_numpy()[at]), sheet).where(column)


_YES = ("yes", "y", "true", "1")


@dataclass(frozen=True, slots=True)
class Feature:
    """One feature of the site: WGS 84 geometry and what the folder says of it.

    ``number`` is its place among all features, from 1; ``stands`` says where that is where it is
    not the file of the format.
    """

    number: int
    kind: str
    name: str
    public: bool
    geometry: BaseGeometry
    properties: Mapping[str, Any]
    stands: Where | None = None

    @property
    def where(self) -> Where:
        """The place of the feature, for a finding."""
        return self.stands or Where(FEATURES_FILE, None, f"feature {self.number}")

    @property
    def occupied(self) -> bool:
        """Whether people are on record as using a building: ``yes``, or as other programs write it."""
        return str(self.properties.get("occupied", "")).strip().lower() in _YES


@dataclass(frozen=True, slots=True)
class Withheld:
    """What was taken out of the record before it was published: zeros and nothing where all of it is there.

    ``roles`` has what stands for each role's code. ``buildings`` counts those that are drawn.
    """

    comments: int = 0
    open_comments: int = 0
    remarks: int = 0
    buildings: int = 0
    roles: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Survey:
    """Everything that the folder says, and the files that say it.

    ``withheld`` counts what a published survey lacks of the folder's. Whoever asks for a table,
    the features, a text, the plan or the rules has it noted (:mod:`sitegen.project.reads`) by the
    table's name, as ``features``, ``text-<name>`` or ``project``. ``measured`` are positions of a file
    beside the table of points, by the row of the point. ``mount`` is where an earlier survey stands in the folder,
    empty for the folder's own: what is read of it is noted by that and the name.
    """

    settings: Settings
    tables: Mapping[str, SurveyTable]
    features: tuple[Feature, ...]
    texts: Mapping[str, str]
    folder: Folder
    digest: str
    withheld: Withheld = Withheld()
    measured: Mapping[int, Supplied] = field(default_factory=dict)
    mount: str = ""

    def __post_init__(self) -> None:
        """Have tables, features and texts note that they are read."""
        put = object.__setattr__
        put(self, "tables", Noted(dict(self.tables), self.mount))
        put(self, "features", NotedTuple(self.features, f"{self.mount}features"))
        put(self, "texts", Noted(dict(self.texts), f"{self.mount}text-"))

    @property
    def plan(self) -> PlanPart:
        """The plan as the settings state it."""
        note((f"{self.mount}project",))
        return self.settings.plan

    @property
    def rules(self) -> RulesPart:
        """The rules that the settings chose."""
        note((f"{self.mount}project",))
        return self.settings.rules

    def frame(self, name: str) -> pd.DataFrame:
        """Return the typed frame of the table called ``name``."""
        return self.tables[name].frame

    def rows(self, of: type[R]) -> tuple[R, ...]:
        """Return the rows of the table whose records are ``of``, in file order."""
        return cast("tuple[R, ...]", self.tables[NAME_OF[of]].rows)

    def stamp(self, name: str, index: int) -> Stamp:
        """Return the origin of a row of a table."""
        where = self.tables[name].where(index)
        return Stamp(where.file, where.row or 0, self.folder.sha256(where.file))

    @property
    def time_zone(self) -> str:
        """The project's IANA zone."""
        return self.settings.project.time_zone
