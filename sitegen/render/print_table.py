"""A report table as nodes of the print tree: cells, marks, widths and legend."""

from __future__ import annotations

from sitegen.figures.look import CLASS_COLOURS
from sitegen.render import print_widths as widths
from sitegen.render.print_targets import Targets
from sitegen.render.typst_tree import Node
from sitegen.report.records import Cell, Column, Table

MARK_SIZE = 0.8
"""Size of a mark's word against its number's."""

_WORD_LIMIT_EM = 9.0  # a longer word in a text cell may be broken
_NUMBER_LIMIT_EM = 14.0  # numbers are not broken below this width
_LIKED_LIMIT_EM = {"text": 24.0, "number": 16.0, "wide": 60.0}
_SHORT_ROW_EM = 900.0  # a row with less text than this stays on one page

LEADS = {
    "yes": ("●", "yes"),
    "partly": ("◐", "partly"),
    "no": ("○", "no"),
    "stop": ("■", "stop"),
    "hold": ("◆", "hold"),
    "flag": ("▲", "flag"),
    "note": ("▪", "note"),
}
"""Shape and word that say a tone without colour."""


def cell_text(cell: Cell) -> str:
    """Return a cell's text, led by the shape and the word of its tone.

    >>> cell_text(Cell("12 of 13", tone="partly")), cell_text(Cell("Yes", tone="yes"))
    ('◐ partly: 12 of 13', '● Yes')
    """
    if cell.tone not in LEADS:
        return cell.text
    shape, word = LEADS[cell.tone]
    if word in cell.text.casefold():
        return f"{shape} {cell.text}"
    return f"{shape} {word}: {cell.text}" if cell.text else f"{shape} {word}"


def cell_node(cell: Cell, targets: Targets, limit_em: float) -> Node | str:
    """Return a cell for the template: a plain string where there is nothing but text."""
    text = widths.soften(cell_text(cell), limit_em)
    node: Node = {}
    if label := targets.resolve(cell.ref):
        node["to"] = label
    if cell.marks:
        limit = limit_em / MARK_SIZE
        node["marks"] = [widths.soften(mark.word, limit) for mark in cell.marks]
    if cell.tone.startswith("class") and cell.tone[5:].isdigit():
        node["class"] = min(int(cell.tone[5:]), len(CLASS_COLOURS) - 1)
    elif cell.tone:
        node["tone"] = cell.tone
    return {"text": text, **node} if node else text


def legend(table: Table) -> list[tuple[str, str]]:
    """Return each mark of a table once, in order of appearance: word and reason."""
    marks = (mark for row in table.rows for cell in row for mark in cell.marks)
    return list(dict.fromkeys((mark.word, mark.reason) for mark in marks))


def table_nodes(table: Table, targets: Targets, width_pt: float, label: str) -> list[Node]:
    """Return a table as one node, or as several panels where it is too wide for a page.

    Notes, legend and source follow the last panel.
    """
    head = {"kind": "table", "caption": table.caption, "label": label, "empty": table.empty}
    tail = {"note": table.note, "source": table.source, "legend": legend(table)}
    layout = widths.lay_out(
        [_measure(table, i) for i in range(len(table.columns))], width_pt, table.row_header
    )
    nodes = [head | _panel_node(table, targets, layout, panel) for panel in layout.panels]
    if layout.upright and (unit := shared_unit(table)):
        for node in nodes:
            node["caption"] += f", {unit}"
    if len(nodes) > 1:
        for number, node in enumerate(nodes, 1):
            node["caption"] += f" (columns, part {number} of {len(nodes)})"
            node["label"] = label if number == 1 else f"{label}-part-{number}"
    nodes[-1] |= tail
    return nodes


def _panel_node(table: Table, targets: Targets, layout: widths.Layout, panel: widths.Panel) -> Node:
    inner_em = [(width - widths.padding_pt(layout.size_pt)) / layout.size_pt for width in panel.widths_pt]
    pairs = list(zip(panel.columns, inner_em, strict=True))
    rows = [[cell_node(row[i], targets, limit) for i, limit in pairs] for row in table.rows]
    return {
        "size": layout.size_pt,
        "pad": widths.padding_pt(layout.size_pt) / 2,
        "columns": [
            _column_node(table, i, limit, width, upright=layout.upright)
            for (i, limit), width in zip(pairs, panel.widths_pt, strict=True)
        ],
        "rows": rows,
        "long": [_is_long(row) for row in table.rows],
    }


def shared_unit(table: Table) -> str:
    """Return the unit of all number columns where it is the same, or nothing."""
    units = {column.unit for column in table.columns if column.kind == "number"}
    return units.pop() if len(units) == 1 else ""


def _upright_title(table: Table, index: int) -> str:
    """Return a title that stands upright; a unit that all share goes to the caption."""
    column = table.columns[index]
    if column.kind != "number" or index == table.row_header:
        return ""
    return column.title if not column.unit or shared_unit(table) else f"{column.title}, {column.unit}"


def _column_node(table: Table, index: int, limit_em: float, width_pt: float, *, upright: bool) -> Node:
    column = table.columns[index]
    stands = _upright_title(table, index) if upright else ""
    limit = limit_em / widths.BOLD
    return {
        "title": widths.soften(stands, widths.UPRIGHT_EM / widths.BOLD) or widths.soften(column.title, limit),
        "unit": "" if stands else widths.soften(column.unit, limit),
        "right": column.kind == "number",
        "upright": bool(stands),
        "width": width_pt,
    }


def _measure(table: Table, index: int) -> widths.Measure:
    column = table.columns[index]
    cells = [row[index] for row in table.rows]
    limit = _NUMBER_LIMIT_EM if column.kind == "number" else _WORD_LIMIT_EM
    least = max((_longest_piece(cell) for cell in cells), default=0.0)
    liked = max((_line(cell) for cell in cells), default=0.0)
    titles = (column.title, column.unit)
    title_word = max(widths.longest_word_em(title) for title in titles)
    title_line = min(max(widths.width_em(title) for title in titles) * widths.BOLD, 12.0)
    upright = _upright_title(table, index)
    return widths.Measure(
        least_em=max(min(least, limit), 1.5),
        liked_em=min(max(liked, title_line), _LIKED_LIMIT_EM.get(column.kind, 24.0)),
        title_em=min(title_word, _WORD_LIMIT_EM),
        upright_em=widths.upright_em(upright) if upright else 0.0,
    )


def _longest_piece(cell: Cell) -> float:
    words = [widths.longest_word_em(cell_text(cell)) * _boldness(cell)]
    return max(words + [widths.longest_word_em(mark.word) * MARK_SIZE for mark in cell.marks])


def _line(cell: Cell) -> float:
    own = max((widths.width_em(line) for line in cell_text(cell).split("\n")), default=0.0)
    return own * _boldness(cell) + sum(widths.width_em(f" {mark.word},") * MARK_SIZE for mark in cell.marks)


def _boldness(cell: Cell) -> float:
    return widths.BOLD if cell.tone == "strong" else 1.0


def _is_long(row: tuple[Cell, ...]) -> bool:
    return max(widths.width_em(cell.text) for cell in row) > _SHORT_ROW_EM
