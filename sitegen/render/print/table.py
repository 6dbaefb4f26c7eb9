"""A report table as nodes of the print tree: cells, marks, widths and legend."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from sitegen.figures.look import CLASS_COLOURS
from sitegen.render.print import widths
from sitegen.render.print.markdown import Node
from sitegen.render.print.targets import Targets
from sitegen.report.record.pages import Cell, Column, Mark, Table
from sitegen.report.write.qualified import Qualified, every_text, key_notes, key_title, qualified, qualifiers_in
from sitegen.voice import worded

MARK_SIZE = 0.8
"""Size of a mark's sign against its number's."""

SIGNS = "†‡§¶"
"""What stands in a cell for a mark: no letter, which would be read as a qualifier of the result."""

_WORD_LIMIT_EM = 9.0  # a longer word in a text cell may be broken
_NUMBER_LIMIT_EM = 14.0  # numbers are not broken below this width
_LIKED_LIMIT_EM = {"text": 24.0, "number": 16.0, "wide": 60.0}
_GAP_PT = 2.6  # above and below a cell's text
_COMPACT_GAP_PT = 2.0
_FIRST_LINE_EM = 0.7  # from the top of capitals to the baseline
_LINE_EM = 1.2  # from baseline to baseline, at most
_TITLE_EM = 6.0  # height of column titles that lie, at most
_ROUNDED_EM = 0.02  # widths are rounded down to a tenth of a point
_SHORT_ROW_LINES = 20  # a row of no more lines than this stays on one page

LEADS = {
    "yes": ("●", "yes"),
    "partly": ("◐", "partly"),
    "no": ("○", "no"),
    "no-record": ("□", "no record"),
    "stop": ("■", "stop"),
    "hold": ("◆", "hold"),
    "major": ("◆", "major"),
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
    shape, english = LEADS[cell.tone]
    word = worded(english)
    if word.casefold() in cell.text.casefold():
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
        node["marks"] = [widths.soften(word, limit) for word in cell.mark_words]
    if cell.tone.startswith("class") and cell.tone[5:].isdigit():
        node["class"] = min(int(cell.tone[5:]), len(CLASS_COLOURS) - 1)
    elif cell.tone:
        node["tone"] = cell.tone
    return {"text": text, **node} if node else text


def sign(number: int) -> str:
    """Return the sign for a number, doubled after the last one.

    >>> sign(0), sign(3), sign(4)
    ('†', '¶', '††')
    """
    times, own = divmod(number, len(SIGNS))
    return SIGNS[own] * (times + 1)


def signs(table: Table) -> Mapping[str, str]:
    """Return a sign for each word of the marks in a table's cells, in order of appearance."""
    words = dict.fromkeys(mark.word for row in table.rows for cell in row for mark in cell.marks)
    return {word: sign(number) for number, word in enumerate(words)}


def sign_marks(table: Table, by_word: Mapping[str, str]) -> Table:
    """Return a table with the signs given for the words of its marks."""
    rows = tuple(
        tuple(cell._replace(marks=tuple(mark._replace(word=by_word[mark.word]) for mark in cell.marks)) for cell in row)
        for row in table.rows
    )
    return replace(table, rows=rows)


def legend(made: Qualified, by_word: Mapping[str, str]) -> list[tuple[str, str]]:
    """Return each mark of a table once: its sign with its word, and its reasons; first those of all values."""
    reasons: dict[str, dict[str, None]] = {}
    for mark in (*made.every, *_cell_marks(made.table)):
        reasons.setdefault(mark.word, {})[mark.reason] = None
    return [(_named(word, by_word), " ".join(told)) for word, told in reasons.items()]


def short_legend(made: Qualified, by_word: Mapping[str, str]) -> str:
    """Return the signs of a table with their words, and what a bag stands for, in one line."""
    stands = {group.word: ", ".join(dict.fromkeys(mark.word for mark in marks)) for group, marks in made.groups}
    named = ((_named(word, by_word), stands.get(word, "")) for word in by_word)
    return "; ".join(f"{name} ({words})" if words else name for name, words in named)


def _cell_marks(table: Table) -> Iterator[Mark]:
    return (mark for row in table.rows for cell in row for mark in cell.marks)


def _named(word: str, by_word: Mapping[str, str]) -> str:
    return f"{by_word[word]} {word}" if word in by_word else word


def join_nondetects(table: Table) -> Table:
    """Return a table in which rows of non-detects that differ in their heads alone are one row, after the others.

    >>> below = Cell("<10", tone="nondetect")
    >>> rows = [[Cell("Benzene"), below], [Cell("Toluene"), Cell("12")], [Cell("o-Xylene"), below]]
    >>> columns = (Column("compound", "Compound"), Column("result", "Result"))
    >>> [row[0].text for row in join_nondetects(Table("t", "Results", columns, tuple(map(tuple, rows)))).rows]
    ['Toluene', 'Benzene; o-Xylene']
    """
    groups: dict[tuple[object, ...], list[tuple[Cell, ...]]] = {}
    for row in table.rows:
        said = tuple(("" if i == table.row_header else cell.text, cell.marks, cell.tone) for i, cell in enumerate(row))
        head = "" if any(cell.tone == "nondetect" for cell in row) else row[table.row_header].text
        groups.setdefault((head, *said), []).append(row)
    alone = [rows[0] for rows in groups.values() if len(rows) == 1]
    together = [_one_row(rows, table.row_header) for rows in groups.values() if len(rows) > 1]
    return replace(table, rows=(*alone, *together))


def _one_row(rows: Sequence[tuple[Cell, ...]], head: int) -> tuple[Cell, ...]:
    heads = Cell("; ".join(row[head].text for row in rows), marks=rows[0][head].marks)
    return (*rows[0][:head], heads, *rows[0][head + 1 :])


def table_nodes(
    table: Table, targets: Targets, width_pt: float, label: str, *, compact: bool = False, keyed: bool = False
) -> list[Node]:
    """Return a table as one node, or as several panels where it is too wide for a page.

    Notes, key and source follow the last panel. A compact table has closer rows. A ``keyed`` one has the words of its
    marks alone: the key at the end of the chapter has the reasons.
    A cell's link is dropped where the heading of its row leads to the same place.
    """
    if not table.columns:
        table = replace(table, columns=(Column("none", worded("Record")),), rows=())
    if table.joined:
        table = join_nondetects(table)
    head: Node = {"kind": "table", "caption": table.caption, "label": label, "empty": table.empty}
    made = qualified(table)
    by_word = signs(made.table)
    tail: Node = {
        "note": table.note,
        "source": table.source_line,
        "every": every_text(made),
        "legend": [] if keyed else legend(made, by_word),
        "key": " ".join(_key_sentences(made, short_legend(made, by_word) if keyed else "")),
        "key_title": key_title(),
    }
    table = sign_marks(made.table, by_word)
    plain = compact and shared_unit(table) in table.caption
    if plain:
        table = replace(table, columns=tuple(column._replace(unit="") for column in table.columns))
    layout = widths.lay_out(
        [_measure(table, i) for i in range(len(table.columns))], width_pt, table.row_header, compact=compact
    )
    gap = _COMPACT_GAP_PT if compact else _GAP_PT
    nodes = [head | _panel_node(table, targets, layout, panel, gap) for panel in layout.panels]
    if layout.upright and (unit := shared_unit(table)) not in table.caption:
        for node in nodes:
            node["caption"] += f", {unit}"
    if len(nodes) > 1:
        for number, node in enumerate(nodes, 1):
            node["caption"] += f" (columns, part {number} of {len(nodes)})"
            node["label"] = label if number == 1 else f"{label}-part-{number}"
    nodes[-1] |= tail
    return nodes


def _key_sentences(made: Qualified, legend_line: str) -> Iterator[str]:
    """Yield what the key of a table says besides the reasons of marks."""
    qualifiers = qualifiers_in(made.table) if made.table.rows else ()
    yield from key_notes(made)
    for line in (legend_line, "; ".join(f"{name}: {meaning}" for name, meaning in qualifiers)):
        if line:
            yield f"{line}."


def _panel_node(table: Table, targets: Targets, layout: widths.Layout, panel: widths.Panel, gap_pt: float) -> Node:
    inner_em = [(width - widths.padding_pt(layout.size_pt)) / layout.size_pt for width in panel.widths_pt]
    pairs = list(zip(panel.columns, inner_em, strict=True))
    rows = [_row_cells(table, row, targets, pairs) for row in table.rows]
    lines = [max(_lines(row[i], limit) for i, limit in pairs) for row in table.rows]
    title_em = widths.UPRIGHT_EM if layout.upright else _TITLE_EM
    row_pt = layout.size_pt * (_FIRST_LINE_EM - _LINE_EM) + 2 * gap_pt
    return {
        "gap": gap_pt,
        "height": (title_em + _LINE_EM * math.fsum(lines)) * layout.size_pt + row_pt * (len(lines) + 1),
        "size": layout.size_pt,
        "pad": widths.padding_pt(layout.size_pt) / 2,
        "columns": [
            _column_node(table, i, limit, width, upright=layout.upright)
            for (i, limit), width in zip(pairs, panel.widths_pt, strict=True)
        ],
        "rows": rows,
        "long": [number > _SHORT_ROW_LINES for number in lines],
    }


def _row_cells(
    table: Table, row: tuple[Cell, ...], targets: Targets, pairs: Sequence[tuple[int, float]]
) -> list[Node | str]:
    head = row[table.row_header].ref if table.row_header >= 0 else None
    return [
        cell_node(
            row[i] if i == table.row_header or row[i].ref != head else row[i]._replace(ref=None),
            targets,
            limit,
        )
        for i, limit in pairs
    ]


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
        line_em=min(liked, _LIKED_LIMIT_EM.get(column.kind, 24.0)),
        liked_em=min(max(liked, title_line), _LIKED_LIMIT_EM.get(column.kind, 24.0)),
        title_em=min(title_word, _WORD_LIMIT_EM),
        upright_em=widths.upright_em(upright) if upright else 0.0,
    )


def _longest_piece(cell: Cell) -> float:
    words = [widths.longest_word_em(cell_text(cell)) * _boldness(cell)]
    return max(words + [widths.longest_word_em(word) * MARK_SIZE for word in cell.mark_words])


def _line(cell: Cell) -> float:
    own = max((widths.width_em(line) for line in cell_text(cell).split("\n")), default=0.0)
    return own * _boldness(cell) + math.fsum(widths.width_em(f" {word},") * MARK_SIZE for word in cell.mark_words)


def _boldness(cell: Cell) -> float:
    return widths.BOLD if cell.tone == "strong" else 1.0


def _lines(cell: Cell, limit_em: float) -> float:
    """Return how many lines a cell's text may take in a column this wide, at worst."""
    if "\n" not in cell.text and _line(cell) <= limit_em + _ROUNDED_EM:
        return 1.0
    filled = limit_em * widths.FILL
    marks = math.fsum(widths.width_em(word) for word in cell.mark_words)
    return marks / filled + math.fsum(1 + widths.width_em(line) / filled for line in cell.text.split("\n"))
