"""Columns of a points-by-compounds sheet: what leads each row, and the results of each compound."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import chain
from typing import NamedTuple, Protocol

from sitegen.compute.field.exposure import Placement
from sitegen.compute.place.points import StatedPosition
from sitegen.compute.place.systems import is_geographic
from sitegen.project.tables import Location
from sitegen.report.data.widecells import WideFigure, row_marks, shown
from sitegen.report.field.surveyed import surveyed_position, unit_head
from sitegen.report.record.sheets import SheetCell, SheetColumn, Shown
from sitegen.report.write.context import Context
from sitegen.report.write.words import say, word

_NARROWEST, _NARROWEST_RESULT, _WIDEST, _WIDEST_REMARKS = 9, 15, 28, 22
_ROOM = 3
"""Beside the longest text of a column, for the button of its filter and for the edges of the cell."""

FIXED = 3
"""How many columns lead each page: the point, the sample, and the marks of the row, which travel with its numbers."""

Rows = tuple[tuple[SheetCell, ...], ...]


class Line(Protocol):
    """A row of a sheet."""

    @property
    def place(self) -> Location:
        """Its point."""

    @property
    def placement(self) -> Placement | None:
        """Its sampler, None where none was placed."""

    @property
    def named(self) -> str:
        """What the sampler is at the point."""

    @property
    def figures(self) -> Mapping[str, WideFigure]:
        """Its results by compound."""


class Filled(NamedTuple):
    """A column with its cells, one for each line; ``remarks`` stand beside or below them."""

    head: str
    cells: tuple[SheetCell, ...]
    kind: str = "text"
    analyte_id: str = ""
    remarks_head: str = ""
    remarks: tuple[str, ...] = ()


def lead_columns(context: Context, group: str, lines: Sequence[Line]) -> list[Filled]:
    """Return what stands before the results: the sample with the marks of its row, the ground, exposure, position.

    The first three stay beside every number, in sight and in print. Surface and depth are left out of
    air, where none is recorded.
    """
    text: list[tuple[str, Callable[[Line], SheetCell]]] = [
        (say("sheets.point"), lambda line: line.place.location_id),
        (say("sheets.sample"), lambda line: line.named),
        (say("sheets.row_marks"), lambda line: _row_text(context, line)),
        (say("sheets.sampler"), lambda line: line.placement.sampler_id if line.placement else ""),
        (say("sheets.medium"), lambda line: word("medium", line.place.medium)),
    ]
    found = [Filled(head, tuple(map(cell, lines))) for head, cell in text]
    found[2] = found[2]._replace(kind="wide")
    ground = [
        Filled(say("sheets.surface"), tuple(_surface(line.place) for line in lines)),
        _depths([line.placement for line in lines]),
    ]
    found += [column for column in ground if group != "air" or any(column.cells)]
    found.append(Filled(say("sheets.exposure"), tuple(_days(context, line.placement) for line in lines), "number"))
    found += _positions(context, lines)
    return found


def _surface(place: Location) -> str:
    return word("surface", place.surface) if place.surface else ""


def _depths(placed: Sequence[Placement | None]) -> Filled:
    """Return the depths in the unit in which they were written down; in metres where they were in several."""
    units = {one.depth_text.partition(" ")[2] for one in placed if one and one.depth_text}
    unit = units.pop() if len(units) == 1 else "m"
    return Filled(say("sheets.depth", unit=unit), tuple(_depth(one, unit) for one in placed), "number")


def _depth(placed: Placement | None, unit: str) -> SheetCell:
    if placed is None or placed.depth_m is None:
        return ""
    text, _, stated = placed.depth_text.partition(" ")
    return shown(text, float(text)) if stated == unit else shown("", round(placed.depth_m, 3))


def _days(context: Context, placed: Placement | None) -> SheetCell:
    if placed is None:
        return ""
    if placed.exposure_min is None:
        return say("sheets.not_recorded")
    text = context.days_text(placed.exposure_min)
    return shown(text, float(text))


def _positions(context: Context, lines: Sequence[Line]) -> Iterator[Filled]:
    code = context.survey.settings.space.crs
    facts = {"degrees": is_geographic(code), "system": code, "unit": unit_head(code)}
    given = [_given(context, line.place.location_id) for line in lines]
    for name, at in (("easting", 0), ("northing", 1)):
        yield Filled(say(f"sheets.{name}", **facts), tuple(_coordinate(one, at) for one in given), "number")


def _given(context: Context, name: str) -> StatedPosition | None:
    point = context.points.get(name)
    return surveyed_position(point) if point else None


def _coordinate(given: StatedPosition | None, at: int) -> SheetCell:
    if given is None:
        return say("sheets.not_surveyed")
    text, value = ((given.x_text, given.x), (given.y_text, given.y))[at]
    return shown(text.strip(), value)


def _row_text(context: Context, line: Line) -> str:
    if line.figures and line.placement:
        return "; ".join(row_marks(context, line.placement.sampler_id))
    state = context.state_of(line.place)
    return say("sheets.no_results", state=state, words=word("state", state))


def compound_columns(context: Context, lines: Sequence[Line], unit: str, *, twin: bool) -> list[Filled]:
    """Return a column for each compound with results on the sheet, in the order of the list."""
    there = set(chain.from_iterable(line.figures for line in lines))
    order = [name for name in context.compounds if name in there]
    order += sorted(there.difference(order))
    return [_compound(context, name, lines, unit, twin=twin) for name in order]


def _compound(context: Context, analyte_id: str, lines: Sequence[Line], unit: str, *, twin: bool) -> Filled:
    figures = [line.figures.get(analyte_id) for line in lines]
    limit = common_limit(figure for figure in figures if figure)
    others = any(figure and not figure.tells_limit and figure.limit != limit for figure in figures)
    name = context.name(analyte_id)
    missing = say("sheets.no_result")
    return Filled(
        say("sheets.compound", name=name, unit=unit, limit=limit, others=others, below=twin),
        tuple(
            figure.cell if figure else (missing if line.figures else "")
            for line, figure in zip(lines, figures, strict=True)
        ),
        "number",
        analyte_id,
        say("sheets.remarks", name=name),
        tuple(figure.beside(limit) if figure else "" for figure in figures),
    )


def common_limit(figures: Iterable[WideFigure]) -> str:
    """Return the reporting limit that at least half of the results share, nothing where none does."""
    limits = Counter(figure.limit for figure in figures)
    limit, often = limits.most_common(1)[0] if limits else ("", 0)
    return limit if 2 * often >= limits.total() else ""


def beside(lead: Sequence[Filled], compounds: Sequence[Filled]) -> tuple[tuple[SheetColumn, ...], Rows]:
    """Return columns and rows with the remarks in a column beside each number."""
    columns = [_column(one, block) for block, one in enumerate(lead)]
    cells = [one.cells for one in lead]
    for block, one in enumerate(compounds, start=len(lead)):
        said = Filled(one.remarks_head, one.remarks, "wide", remarks=one.remarks)
        columns += [_column(one, block), _column(said, block)]
        cells += [one.cells, one.remarks]
    return tuple(columns), tuple(zip(*cells, strict=True))


def with_twin_lines(lead: Sequence[Filled], compounds: Sequence[Filled]) -> tuple[tuple[SheetColumn, ...], Rows]:
    """Return columns and rows with the remarks in a row below the numbers, where there are any.

    Such a row repeats what tells the sampler, and says what it is.
    """
    named, rest = lead[:FIXED], lead[FIXED:]
    rows: list[tuple[SheetCell, ...]] = []
    result, remarks = say("sheets.line_result"), say("sheets.line_remarks")
    for at in range(len(lead[0].cells)):
        who, more = [one.cells[at] for one in named], [one.cells[at] for one in rest]
        rows.append((*who, result, *more, *(one.cells[at] for one in compounds)))
        said = [one.remarks[at] for one in compounds]
        if any(said):
            rows.append((*who[:2], "", remarks, more[0], *("" for _ in more[1:]), *said))
    lines = Filled(say("sheets.line"), (result, remarks))
    wrapping = [one._replace(cells=(*one.cells, *one.remarks)) for one in compounds]
    columns = tuple(_column(one, block) for block, one in enumerate((*named, lines, *rest, *wrapping)))
    return columns, tuple(rows)


def _column(filled: Filled, block: int) -> SheetColumn:
    """Return a column as wide as its longest cell and the longest word of its head, within bounds."""
    widest = _WIDEST_REMARKS if filled.remarks else _WIDEST
    longest = max((len(_text(cell)) for cell in filled.cells), default=0)
    words = max(map(len, filled.head.replace("-", "- ").split()), default=0)
    width = min(max(longest, words) + _ROOM, widest)
    narrowest = _NARROWEST_RESULT if filled.analyte_id else _NARROWEST
    return SheetColumn(filled.head, max(width, narrowest), filled.kind, block, filled.analyte_id)


def _text(cell: SheetCell) -> str:
    return cell.text if isinstance(cell, Shown) else cell or ""
