"""Prepare a table of the report for its HTML template: classes, row anchors, marks in words."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

from markupsafe import Markup, escape

from sitegen.render.site.targets import Targets, own_anchor
from sitegen.report.record.pages import Cell, Mark, Table
from sitegen.report.write.qualified import (
    Qualified,
    every_text,
    key_notes,
    key_title,
    qualified,
    qualifiers_in,
    with_custody,
)
from sitegen.voice import worded

_SPECIAL = re.compile("[&<>\"']")
_UNBROKEN = re.compile(r"[^\s/_-]+")
_JOINT = re.compile(r"(?<=\w)([/_]|\.(?=[a-z]))(?=\w)")

SHORT_CHARS = 20
"""A text column whose cells are all at most this long is never wrapped."""

LONGEST_WORD = 28
"""A column with a longer word (a digest, a key, a path) may break it anywhere; no compound's name is that long."""

STICKY_ROWS = 20
"""A table longer than this scrolls within its own frame, under its header row."""


LEAST_ON_CARD, MOST_ON_CARD = 4, 11
"""Columns of a table whose rows are cards on a phone: fewer fit beside each other, more are a matrix."""

MOST_STOPS = 60
"""Links of a matrix that may each be a stop of the Tab key."""


class ColumnLook(NamedTuple):
    """How a column's cells are written: start of the tag, end tag, classes, breaks within paths."""

    start: str
    end: str
    classes: str
    joints: bool


class Reason(NamedTuple):
    """Why a mark is in a table: its text, its finding's link and the rows, or the bag, that it applies to."""

    text: str
    href: str
    rows: tuple[str, ...]


class MarkWord(NamedTuple):
    """A mark of a table with its reasons; ``rows`` of a reason are empty where it is the only one."""

    word: str
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class TableView:
    """A table as the template needs it: ``table`` as it is shown, ``rows`` as the finished body.

    ``every`` says what applies to all values; the ``key`` explains the rest: ``notes``, ``marks``, ``qualifiers``.
    ``stacks`` holds where on a phone each row becomes a card, its values beside their columns' titles;
    ``roams`` where so many cells hold links that the table is one stop of the Tab key.
    """

    table: Table
    rows: Markup
    every: str
    key: str
    notes: tuple[str, ...]
    marks: tuple[MarkWord, ...]
    qualifiers: tuple[tuple[str, str], ...]
    filters: str
    has_origins: bool
    is_long: bool
    stacks: bool
    roams: bool


def view_table(table: Table, targets: Targets, here: str) -> TableView:
    """Return the view of a table on page ``here``."""
    made = shown(table)
    marks = _mark_words(table, made, targets, here)
    table = made.table
    keys = [column.key for column in table.columns]
    return TableView(
        table=table,
        rows=_rows(table, targets, here),
        every=every_text(made),
        key=key_title(),
        notes=tuple(key_notes(made)),
        marks=marks,
        qualifiers=qualifiers_in(table) if table.rows else (),
        filters=" ".join(str(keys.index(key)) for key in table.filters if key in keys and len(table.rows) > 1),
        has_origins=any(cell.origin is not None for row in table.rows for cell in row),
        is_long=len(table.rows) > STICKY_ROWS,
        stacks=_stacks(table),
        roams=len(table.columns) > MOST_ON_CARD and _links(table) > MOST_STOPS,
    )


def shown(table: Table) -> Qualified:
    """Return a table as the site shows it: what applies to all values or to a row once, bags in a column."""
    return with_custody(qualified(table))


def _stacks(table: Table) -> bool:
    """Tell whether rows are cards on a phone: not those of a few short cells, nor those of a matrix of numbers."""
    few = LEAST_ON_CARD <= len(table.columns) <= MOST_ON_CARD
    return few or any(column.kind == "wide" for column in table.columns)


def _links(table: Table) -> int:
    return sum(cell.ref is not None for row in table.rows for cell in row)


def _rows(table: Table, targets: Targets, here: str) -> Markup:
    """Return the rows as HTML.

    Rows are most of what a site consists of, so they are put together here and not by a
    template, which takes ten times as long; every text goes through ``_text``.
    """
    looks = [_look(table, index) for index in range(len(table.columns))]
    lines = []
    for row, row_id in zip(table.rows, _row_ids(table, targets, here), strict=True):
        cells = (_cell(cell, look, targets, here) for cell, look in zip(row, looks, strict=True))
        identity = f' id="{_text(row_id)}"' if row_id else ""
        lines.append(f"<tr{identity}>{''.join(cells)}</tr>\n")
    return Markup("".join(lines))  # noqa: S704 - made of escaped texts


def _look(table: Table, index: int) -> ColumnLook:
    column = table.columns[index]
    kind = column.kind
    if kind == "text" and any(len(row[index].text) > SHORT_CHARS for row in table.rows):
        kind = "long"
    if kind in ("long", "wide") and any(_has_long_word(row[index].text) for row in table.rows):
        kind += " breaks"
    heads = index == table.row_header
    tag = 'th scope="row"' if heads else "td"
    classes = "" if kind == "text" else _text(kind)
    return ColumnLook(f"<{tag}", f"</{tag[:2]}>", classes, kind not in ("text", "number"))


def _has_long_word(text: str) -> bool:
    return len(text) > LONGEST_WORD and any(len(word) > LONGEST_WORD for word in _UNBROKEN.findall(text))


def _cell(cell: Cell, look: ColumnLook, targets: Targets, here: str) -> str:
    text, ref, _, tone, origin = cell
    inner = _JOINT.sub(r"\1<wbr>", _text(text)) if look.joints else _text(text)
    if ref and (href := targets.href(ref, here)):
        inner = f'<a href="{_text(href)}">{inner}</a>'
    for word in cell.mark_words if cell.marks else ():
        inner += f' <span class="mark">{_text(word)}</span>'
    classes = f"{look.classes} tone-{_text(tone)}".lstrip() if tone else look.classes
    attributes = f' class="{classes}"' if classes else ""
    if origin:
        attributes += f' data-origin="{_text(_origin_text(origin))}"'
    return f"{look.start}{attributes}>{inner}{look.end}"


def _origin_text(origin: tuple[str, int, str]) -> str:
    """Say where a number comes from: as many cells have one, the words alone are looked up and filled in here."""
    file, row, column = origin
    return worded("{file}, row {row}, {column}").format(file=file, row=row, column=column)


def _text(text: str) -> str:
    """Escape a text; most of a table's hold nothing to escape."""
    return str(escape(text)) if _SPECIAL.search(text) else text


def _row_ids(table: Table, targets: Targets, here: str) -> tuple[str, ...]:
    if table.row_header < 0:
        return ("",) * len(table.rows)
    known = targets.anchors.get(here, {})
    names = (own_anchor(row[table.row_header], here) for row in table.rows)
    return tuple(name if name and known.get(name) == (table.id, index) else "" for index, name in enumerate(names))


def _mark_words(table: Table, made: Qualified, targets: Targets, here: str) -> tuple[MarkWord, ...]:
    """Gather the marks in a table in order of appearance, each with its different reasons.

    A reason that does not apply to all rows names those it applies to, or their bag.
    """
    bags = {mark: (group.word,) for group, marks in made.groups for mark in marks}
    words: dict[str, dict[Mark, dict[str, None]]] = {}
    for number, row in enumerate(table.rows, start=1):
        for cell in row:
            for mark in cell.marks:
                rows = words.setdefault(mark.word, {}).setdefault(mark, {})
                rows[_row_name(table, row, number)] = None
    return tuple(
        MarkWord(
            word,
            tuple(
                Reason(
                    mark.reason,
                    targets.finding_href(mark.finding, here),
                    bags.get(mark, tuple(rows) if apart and mark not in made.every else ()),
                )
                for mark, rows in reasons.items()
            ),
        )
        for word, reasons in words.items()
        for apart in [len({tuple(rows) for rows in reasons.values()}) > 1]
    )


def _row_name(table: Table, row: tuple[Cell, ...], number: int) -> str:
    return row[table.row_header].text if table.row_header >= 0 else worded("row {row}", row=number)
