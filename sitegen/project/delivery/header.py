"""The header of a laboratory's file, of one row or of several, and where the body ends."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from sitegen.project.delivery.parts import MappingForm, SourcePart
from sitegen.project.read.textsafe import plain
from sitegen.project.read.xlsxtext import Sheet

BETWEEN = " / "
"""What stands between the parts of a header of several rows."""


def header_of(form: MappingForm, sheet: Sheet) -> list[str] | None:
    """Return the header, plain and stripped, or None where its last row is blank.

    Cells of several rows are joined from top to bottom; a blank one, and one that equals the one
    above it, is left out. Rows above the last are filled as ``header_fill`` says.
    """
    source = form.source
    cells = lines(sheet)
    last = cells.get(source.header_end)
    if last is None:
        return None
    above = [_filled(source, sheet, cells, number) for number in source.header_row[:-1]]
    rows = [*above, last]
    width = max(map(len, rows))
    return [joined(row[at] if at < len(row) else "" for row in rows) for at in range(width)]


def shown_header(form: MappingForm, sheet: Sheet) -> tuple[str, ...]:
    """Return the header as a page shows it: one row as received, several as they are joined."""
    if len(form.source.header_row) > 1:
        return tuple(header_of(form, sheet) or ())
    return tuple(lines(sheet).get(form.source.header_end, ()))


def lines(sheet: Sheet) -> dict[int, list[str]]:
    """Return the rows of a sheet by their numbers."""
    return dict(zip(sheet.grid.numbers, sheet.grid.rows, strict=True))


def joined(parts: Iterable[str]) -> str:
    """Join the cells of a header that stand above one another.

    >>> joined(["Field", "ID"]), joined(["Compound", "Compound"]), joined(["", "CAS No."])
    ('Field / ID', 'Compound', 'CAS No.')
    """
    kept: list[str] = []
    for part in (plain(cell.strip()) for cell in parts):
        if part and part not in kept[-1:]:
            kept.append(part)
    return BETWEEN.join(kept)


def _filled(source: SourcePart, sheet: Sheet, cells: Mapping[int, list[str]], number: int) -> list[str]:
    """Return a row of the header above the last, its blank cells filled as the mapping says."""
    row = cells.get(number, [])
    if source.header_fill == "right":
        width = max(map(len, (cells.get(at, []) for at in source.header_row)), default=0)
        return _continued([*row, *[""] * (width - len(row))])
    return across_merged(sheet, cells, number) if source.header_fill == "merged" else row


def _continued(row: Sequence[str]) -> list[str]:
    """Let each blank cell continue the one on its left.

    >>> _continued(["", "L-1", "", "L-2"])
    ['', 'L-1', 'L-1', 'L-2']
    """
    filled: list[str] = []
    for cell in row:
        filled.append(cell if cell.strip() or not filled else filled[-1])
    return filled


def across_merged(sheet: Sheet, cells: Mapping[int, list[str]], number: int) -> list[str]:
    """Return a row with the blank cells of merged ranges filled from the first cell of each."""
    row, done = list(cells.get(number, [])), 0
    width = max(map(len, cells.values()), default=0)
    here = (merged for merged in sheet.merged if merged.top <= number <= merged.bottom)
    for merged in sorted(here, key=lambda one: one.left):
        first = cells.get(merged.top, [])
        value = first[merged.left - 1] if merged.left <= len(first) else ""
        row += [""] * (min(merged.right, width) - len(row))
        for at in range(max(merged.left - 1, done), min(merged.right, len(row))):
            row[at] = row[at] if row[at].strip() else value
        done = max(done, merged.right)
    return row


def body_rows(form: MappingForm, sheet: Sheet, used: set[str], over: list[int]) -> Iterator[tuple[int, list[str]]]:
    """Yield (number, cells) of the rows that the header is above of, as far as they are to be read.

    Texts of the mapping that were met come into ``used``, rows that are no results into ``over``.
    """
    source = form.source
    skip, held = set(source.skip_rows), _held(form)
    heads = _heads(form, sheet) if source.repeated_header else []
    ended = False
    for row, number in zip(sheet.grid.rows, sheet.grid.numbers, strict=True):
        if number <= source.header_end or number in held:
            continue
        text = "\x00".join(row)
        ends = [end for end in source.end_containing if end in text]
        said = [said for said in source.skip_containing if said in text]
        used.update(said, ends, map(_row, {number} & skip))
        ended = ended or bool(ends)
        if ended or number in skip or said or _bare(row) in heads:
            over.append(number)
            continue
        yield number, row


def unused(form: MappingForm, used: set[str]) -> list[str]:
    """Name what the mapping says of rows that were not met."""
    source = form.source
    texts = [repr(text) for text in (*source.skip_containing, *source.end_containing) if text not in used]
    below = [number for number in sorted(set(source.skip_rows)) if number > source.header_end]
    return [*texts, *(_row(number) for number in below if _row(number) not in used)]


def _row(number: int) -> str:
    return f"row {number}"


def _held(form: MappingForm) -> set[int]:
    """Return the rows that hold something for each column across."""
    rows = [form.crosstab.rows, *(part.rows for part in (form.lab_samples, form.analytes) if part)]
    return {number for part in rows for number in part.values()}


def _heads(form: MappingForm, sheet: Sheet) -> list[list[str]]:
    cells = lines(sheet)
    return [_bare(cells[number]) for number in form.source.header_row if number in cells]


def _bare(row: Sequence[str]) -> list[str]:
    """Return the cells of a row without blanks around them and without blank cells at its end."""
    cells = [cell.strip() for cell in row]
    while cells and not cells[-1]:
        cells.pop()
    return cells
