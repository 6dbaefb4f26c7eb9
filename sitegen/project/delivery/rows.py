"""Lift the rows of a laboratory's file: its text under our column names, nothing read yet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from itertools import islice
from typing import NamedTuple, TypeAlias

from sitegen.plugins import LAYOUTS, Plugin, plugins
from sitegen.project.delivery.header import across_merged, body_rows, header_of, lines, unused
from sitegen.project.delivery.parts import OUR_COLUMNS, MappingForm
from sitegen.project.read.textsafe import plain
from sitegen.project.read.xlsxtext import Sheet, State

QC_WORD = "qc_word"
"""The name under which the word of ``[source] qc_column`` is lifted."""
RESULT = "result_text"
NAMES_TOLD = 20
"""At most this many names of a header are told: a line has no room for more."""


@dataclass(frozen=True, slots=True)
class Miss:
    """Something that the mapping names and the file lacks: code, row, column, found, expected, do."""

    code: str
    row: int | None
    column: str | None
    found: str
    expected: str
    do: str


class Listed(NamedTuple):
    """A column of another table than results: a text for each entry, and where it stands.

    ``row`` is 0 where it is the entry's own row, ``column`` "" where it is the entry's own column.
    """

    texts: list[str]
    row: int = 0
    column: str = ""


@dataclass(slots=True)
class Lifted:
    """Entries, one for each result cell, in file order.

    ``texts`` holds a list for each of our columns that is mapped, all of one length with
    ``rows`` (row numbers of the file) and ``columns`` (the file's column that holds the
    result). ``places`` tells where cells were taken from: our column, column number from 1,
    row numbers. ``passed_over`` are the rows that the mapping says to skip. ``at`` has, in a
    cross-tab, the place of each entry's column. ``lists`` has such texts for the tables of
    the mapping that make other rows than results, by table and our column.
    """

    texts: dict[str, list[str]] = field(default_factory=dict)
    rows: list[int] = field(default_factory=list)
    columns: list[str] = field(default_factory=list)
    places: list[tuple[str, int, frozenset[int]]] = field(default_factory=list)
    passed_over: list[int] = field(default_factory=list)
    unused: list[str] = field(default_factory=list)
    at: list[int] = field(default_factory=list)
    lists: dict[str, dict[str, Listed]] = field(default_factory=dict)

    def state(self, sheet: Sheet, state: State) -> Iterator[tuple[str, int, list[int]]]:
        """Yield (our column, column number, rows) of the cells lifted that are in a state."""
        for ours, at, rows in self.places:
            if found := sorted(sheet.rows_in(state, at) & rows):
                yield ours, at, found


class Spot(NamedTuple):
    """A cell of the laboratory's file: its row number, its column number from 1, and the part of it that is meant.

    ``text`` is that part, word for word; None stands for all of the cell.
    """

    row: int
    column: int
    text: str | None = None


Body: TypeAlias = list[tuple[int, list[str]]]
"""The rows below the header that are not passed over: number and cells."""
Lift: TypeAlias = Callable[["Pick", Body, Sheet, Lifted], None]
Layout: TypeAlias = Callable[["Pick", Body], Iterable[Mapping[str, Spot]]]
"""A layout of a plug-in: for each result, where each of our columns stands. The texts are taken from there."""


def lift(form: MappingForm, sheet: Sheet) -> tuple[Lifted, list[Miss]]:
    """Take from a sheet what the mapping asks for. Entries are whole only without a Miss."""
    header = header_of(form, sheet)
    if header is None:
        row = form.source.header_end
        do = "correct header_row under [source]"
        return Lifted(), [Miss("mapped-column-missing", row, None, "a blank row", "the header", do)]
    pick = Pick(form, header)
    lifted = Lifted()
    used: set[str] = set()
    read = body_rows(form, sheet, used, lifted.passed_over)
    body = [(number, row + [""] * (len(header) - len(row))) for number, row in read]
    lifted.unused += unused(form, used)
    _lifts()[form.source.layout](pick, body, sheet, lifted)
    for ours, text in form.constants.items():
        lifted.texts.setdefault(ours, [text] * len(lifted.rows))
    _lift_lists(pick, sheet, lifted)
    return lifted, pick.misses


def _lift_lists(pick: Pick, sheet: Sheet, lifted: Lifted) -> None:
    """Lift what makes lists of samples and compounds, and what QC rows have in columns of their own."""
    cells = lines(sheet)
    rows = frozenset(lifted.rows)
    for table, sides in pick.lists.items():
        listed = lifted.lists.setdefault(table, {})
        for ours, at in sides.items():
            texts = [cells[number][at] if at < len(cells[number]) else "" for number in lifted.rows]
            listed[ours] = Listed(texts, 0, pick.header[at])
            lifted.places.append((ours, at + 1, rows))
    for table in ("lab_samples", "analytes"):
        part = getattr(pick.form, table)
        for ours, number in part.rows.items() if part and lifted.at else ():
            held = _held(pick, ours, number, sheet, table)
            lifted.lists[table][ours] = Listed([held[at] for at in lifted.at], number)
            lifted.places += [(ours, at + 1, frozenset({number})) for at in dict.fromkeys(lifted.at)]


class Across(NamedTuple):
    """A column that a cross-tab has across: its place, and the name of what it is of."""

    at: int
    name: str


class Pick:
    """Finds columns by the names that the mapping gives them, and gathers what is missing."""

    def __init__(self, form: MappingForm, header: list[str]) -> None:
        self.form = form
        self.header = header
        self.misses: list[Miss] = []
        self._places: dict[str, list[int]] = defaultdict(list)
        for at, name in enumerate(header):
            self._places[name].append(at)
        self.side = {ours: at for ours, names in form.columns.items() if (at := self.find(ours, names)) >= 0}
        if form.source.qc_column and (at := self.find(QC_WORD, [form.source.qc_column])) >= 0:
            self.side[QC_WORD] = at
        self.lists = {name: self._places_of(name) for name in ("lab_samples", "analytes", "lab_qc")}

    def _places_of(self, name: str) -> dict[str, int]:
        """Return the places of the columns that a table of the mapping beside [columns] names."""
        part = getattr(self.form, name)
        named = part.columns.items() if part else ()
        return {ours: at for ours, names in named if (at := self.find(ours, names)) >= 0}

    def find(self, ours: str, names: Iterable[str]) -> int:
        """Return the place of the first of ``names`` in the header, or -1 and a Miss."""
        row = self.form.source.header_end
        for name in map(plain, names):
            places = self._places.get(name, ())
            if len(places) == 1:
                return places[0]
            if places:
                do = "ask the laboratory for a file with different names"
                self.misses.append(Miss("header-twice", row, name, f"{name} {len(places)} times", "it only once", do))
                return -1
        expected = f"{' or '.join(map(repr, names))} for {ours}"
        found = "a header without it: " + ", ".join(islice(filter(None, self.header), NAMES_TOLD))
        do = f"give the laboratory's column for {ours} in {{mapping}}"
        self.misses.append(Miss("mapped-column-missing", row, None, found, expected, do))
        return -1

    def across(self) -> list[Across]:
        """Return the columns that a cross-tab has across, each by the name of what it is of.

        Where results have a suffix of their own, the name is what stands before it.
        """
        ignored = {plain(name) for name in self.form.crosstab.ignore}
        taken = {*self.side.values(), *(at for sides in self.lists.values() for at in sides.values())}
        free = [at for at, name in enumerate(self.header) if name and name not in ignored and at not in taken]
        suffixes = {ours: plain(suffix) for ours, suffix in self.form.crosstab.suffixes.items()}
        names = {at: self.header[at] for at in free}
        if own := suffixes.get(RESULT):
            bases = {at: name.removesuffix(own) for at, name in names.items() if name.endswith(own)}
            names |= {at: base for at, base in bases.items() if base not in set(names.values())}
        beside = {name + suffix for name in names.values() for suffix in suffixes.values()}
        return [Across(at, name) for at, name in names.items() if name not in beside]


def _lifts() -> dict[str, Lift]:
    """Return what lifts each layout: our own, and those of plug-ins."""
    outside: dict[str, Lift] = {plugin.name: partial(_lift_spots, plugin) for plugin in plugins(LAYOUTS)}
    return {**outside, "long": _lift_long, "crosstab": _lift_crosstab}


def _lift_long(pick: Pick, body: Body, _sheet: Sheet, lifted: Lifted) -> None:
    lifted.rows = [number for number, _ in body]
    rows = frozenset(lifted.rows)
    for ours, at in pick.side.items():
        lifted.texts[ours] = [row[at] for _, row in body]
        lifted.places.append((ours, at + 1, rows))
    holds = pick.side.get(RESULT, pick.side.get("value", 0))
    lifted.columns = [pick.header[holds]] * len(body)


def _lift_crosstab(pick: Pick, body: Body, sheet: Sheet, lifted: Lifted) -> None:
    across = pick.across()
    places = [one.at for one in across]
    _unnamed(pick, body)
    _absent(pick, across)
    named = "lab_sample_id" if pick.form.crosstab.across == "samples" else "analyte_id"
    lifted.rows = [number for number, _ in body for _ in across]
    lifted.at = [at for _ in body for at in places]
    lifted.columns = [pick.header[at] for at in lifted.at]
    lifted.texts[named] = [one.name for _ in body for one in across]
    heads = frozenset(pick.form.source.header_row)
    lifted.places += [(named, at + 1, heads) for at in places]
    _lift_cells(pick, body, across, lifted)
    for ours, number in pick.form.crosstab.rows.items():
        cells = _held(pick, ours, number, sheet, "crosstab")
        lifted.texts[ours] = [cells[at] for at in lifted.at]


def _lift_cells(pick: Pick, body: Body, across: list[Across], lifted: Lifted) -> None:
    """Lift each row's side columns once for each column across, and the columns that belong to that."""
    parts = {ours: [at] * len(across) for ours, at in pick.side.items()} | {RESULT: [one.at for one in across]}
    for ours, suffix in pick.form.crosstab.suffixes.items():
        parts[ours] = [pick.find(ours, [one.name + plain(suffix)]) for one in across]
    rows = frozenset(number for number, _ in body)
    for ours, places in parts.items():
        lifted.texts[ours] = [row[at] for _, row in body for at in places]
        lifted.places += [(ours, at + 1, rows) for at in dict.fromkeys(places)]


def _held(pick: Pick, ours: str, number: int, sheet: Sheet, table: str) -> list[str]:
    """Return the cells of a row that holds one of our columns for each column across."""
    cells = lines(sheet)
    if number in cells:
        row = across_merged(sheet, cells, number)
        return row + [""] * (len(pick.header) - len(row))
    do = f"correct {ours} under rows of [{table}]"
    pick.misses.append(Miss("mapped-column-missing", number, None, "a blank row", f"cells with {ours}", do))
    return [""] * len(pick.header)


def _unnamed(pick: Pick, body: Body) -> None:
    """Tell a column that holds cells below a blank header."""
    for number, row in body:
        for at, cell in enumerate(row):
            if cell.strip() and (at >= len(pick.header) or not pick.header[at]):
                found = f"{cell.strip()[:40]!r} below a blank header cell"
                do = "ask the laboratory for a file with a name for each column"
                pick.misses.append(Miss("header-blank", number, None, found, "a named column", do))
                return


def _absent(pick: Pick, across: list[Across]) -> None:
    """Tell names under qc of [crosstab] that no column across has."""
    row, names = pick.form.source.header_end, [one.name for one in across]
    for name in pick.form.crosstab.qc:
        if name not in names:
            found = "samples across: " + ", ".join(names[:NAMES_TOLD])
            do = "correct the name under [crosstab.qc]"
            pick.misses.append(Miss("mapped-column-missing", row, None, found, f"the sample {name!r}", do))


def _lift_spots(plugin: Plugin, pick: Pick, body: Body, sheet: Sheet, lifted: Lifted) -> None:
    """Lift the cells to which a plug-in's layout points; raises WrongUse where it points to none."""
    if not callable(plugin.target):
        raise plugin.fault("is no function")
    entries = plugin.call(_gathered, plugin.target, pick, body)
    cells = dict(zip(sheet.grid.numbers, sheet.grid.rows, strict=True))
    texts = [{ours: _text(plugin, ours, spot, cells) for ours, spot in entry.items()} for entry in entries]
    held = [entry.get(RESULT) or entry.get("value") for entry in entries]
    places: dict[tuple[str, int], set[int]] = defaultdict(set)
    for entry, result in zip(entries, held, strict=True):
        if result is None:
            raise plugin.fault(f"gives an entry without {RESULT} or value")
        lifted.rows.append(result.row)
        name = pick.header[result.column - 1] if result.column <= len(pick.header) else ""
        lifted.columns.append(name or str(result.column))
        for ours, spot in entry.items():
            places[ours, spot.column].add(spot.row)
    for ours in dict.fromkeys(ours for entry in entries for ours in entry):
        lifted.texts[ours] = [given.get(ours, "") for given in texts]
    lifted.places += [(ours, at, frozenset(rows)) for (ours, at), rows in places.items()]


def _gathered(layout: Layout, pick: Pick, body: Body) -> list[dict[str, Spot]]:
    return [dict(entry) for entry in layout(pick, body)]


def _text(plugin: Plugin, ours: str, spot: object, cells: Mapping[int, list[str]]) -> str:
    """Return the text at a spot."""
    if ours not in (*OUR_COLUMNS, QC_WORD):
        raise plugin.fault(f"gives the column {ours!r}, which is not in the folder format")
    if not isinstance(spot, Spot) or not isinstance(spot.row, int) or not isinstance(spot.column, int):
        raise plugin.fault(f"gives something for {ours} that is no Spot")
    row = cells.get(spot.row)
    if row is None or not 0 < spot.column <= len(row):
        raise plugin.fault(f"points to row {spot.row}, column {spot.column} for {ours}, where the file has no cell")
    cell = row[spot.column - 1]
    if spot.text is not None and spot.text not in cell:
        raise plugin.fault(f"gives a text for {ours} that is not in row {spot.row}, column {spot.column}")
    return cell if spot.text is None else spot.text
