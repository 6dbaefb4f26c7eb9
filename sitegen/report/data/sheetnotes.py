"""The workbook for people as a whole: its sheets, the sheet of notes about them, what runs along its pages."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from sitegen.compute.results.reported import qualifier, split_qualifiers
from sitegen.project.reads import reading
from sitegen.project.survey import called
from sitegen.report.data.widesheets import wide_sheets
from sitegen.report.field.surveyed import system_text, unit_text
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.pages import Meta
from sitegen.report.record.sheets import SheetCell, SheetColumn, WideSheet, Workbook, sheet_names
from sitegen.report.write.context import Context
from sitegen.report.write.words import lexicon, say
from sitegen.units import MASS_UNITS, UNIT_TEXT
from sitegen.voice import worded

_ABOUT_WIDTH, _MEANING_WIDTH = 26, 110
_KNOWN = ("U", "J", "J+", "J-", "UJ", "R", "E", "B", "NJ")
"""The qualifiers that the glossary explains."""

Note = tuple[str, str]


def workbook(context: Context, meta: Meta, exports: Sequence[ExportTable]) -> Workbook:
    """Return the sheets for people, with the notes on them last; none of them before there are results."""
    running = {name: say(f"sheets.{name}", meta=meta) for name in ("head_left", "head_right", "foot_left", "page")}
    made = wide_sheets(context)
    fitting = tuple(sheet for sheet in made if sheet.fits)
    if not made:
        return Workbook((), **running)
    names = sheet_names((*fitting, _notes(())), [one.name for one in exports])
    notes = [
        *_about_report(meta),
        *_about_sheets(fitting, names),
        *_left_out(sheet for sheet in made if not sheet.fits),
        *_rules(context, made),
        *_key(context),
        *_sources(context),
    ]
    return Workbook((*fitting, _notes(notes)), **running)


def _notes(rows: Iterable[Note]) -> WideSheet:
    columns = (
        SheetColumn(say("sheets.about"), _ABOUT_WIDTH, "wide"),
        SheetColumn(say("sheets.meaning"), _MEANING_WIDTH, "wide"),
    )
    return WideSheet(say("sheets.notes"), say("sheets.notes_title"), columns, tuple(rows))


def _about_report(meta: Meta) -> Iterator[Note]:
    about = say("sheets.about_report")
    yield about, say("export.report", meta=meta)
    yield about, say("export.state", meta=meta)
    yield from ((about, notice) for notice in meta.notices)


def _about_sheets(sheets: Sequence[WideSheet], names: Sequence[str]) -> Iterator[Note]:
    """Say what each sheet is, and that ``columns`` tells of those behind."""
    for sheet, name in zip(sheets, names, strict=False):
        named = {row[0]: None for row in sheet.rows}
        told = {row[0] for row in sheet.rows if any(cell not in {"", None} for cell in _results(sheet, row))}
        yield (
            say("sheets.about_sheet", name=name),
            say(
                "sheets.about_wide",
                title=sheet.title,
                points=len(named),
                without=len(named) - len(told),
                rows=len(sheet.rows),
                twin=sheet.twin,
            ),
        )
    yield say("sheets.about_sheet", name="columns"), say("sheets.about_columns")


def _results(sheet: WideSheet, row: Sequence[SheetCell]) -> Iterator[SheetCell]:
    return (cell for column, cell in zip(sheet.columns, row, strict=True) if column.analyte_id)


def _left_out(sheets: Iterable[WideSheet]) -> Iterator[Note]:
    return ((say("sheets.about_rest"), say("sheets.left_out", title=sheet.title)) for sheet in sheets)


def _rules(context: Context, sheets: Sequence[WideSheet]) -> Iterator[Note]:
    """Say what holds for all numbers: mass, concentration, non-detects, digits, limits, what is elsewhere, places."""
    code = context.survey.settings.space.crs
    units = {row.unit for one in context.rounds for row in one.results}
    masses = [UNIT_TEXT.get(unit, unit) for unit in MASS_UNITS if unit in units]
    facts: dict[str, dict[str, object]] = {
        "mass": {"unit": _either(masses) or context.mass_unit.text},
        "computed": {},
        "nondetect": {"display": context.display},
        "numbers": {},
        "limits": {},
        "rest": {},
        "places": {"system": system_text(code), "unit": unit_text(code)},
    }
    computed = any(sheet.computed for sheet in sheets)
    for name, known in facts.items():
        if name != "computed" or computed:
            yield say(f"sheets.about_{name}"), say(f"sheets.{name}", **known)


def _either(units: Sequence[str]) -> str:
    """Write units one of which applies."""
    first, *others = (*units, "")
    for unit in filter(None, others):
        first = worded("{first} or {last}", first=first, last=unit)
    return first


def _key(context: Context) -> Iterator[Note]:
    """Explain the qualifiers and marks that stand on the sheets."""
    qualifiers, marks = beside_results(context)
    about = say("sheets.about_qualifiers")
    if qualifiers:
        parts = {part for text in qualifiers for part in split_qualifiers(text)}
        known = [one for one in _KNOWN if one in parts]
        unknown = sorted(parts.difference(known))
        glossary = lexicon("glossary")["qualifier"]
        yield about, say("sheets.qualifiers", glossary=glossary, found=[*known, *unknown], unknown=unknown)
    else:
        yield about, say("sheets.no_qualifiers")
    for code, entry in lexicon("marks").items():
        if code in marks:
            yield say("sheets.about_mark", word=entry["word"]), entry.get("key", entry["reason"])
    if not marks:
        yield say("sheets.about_marks"), say("sheets.no_marks")


def beside_results(context: Context) -> tuple[set[str], set[str]]:
    """Return the qualifiers that stand beside results of samplers at points, and the codes of their marks."""
    qualifiers: set[str] = set()
    codes: set[str] = set()
    with reading():
        for one in context.rounds:
            marks = one.evaluation.marks
            at_points = {p.sampler_id for placed in one.placed_at.values() for p in placed}
            for row in one.results:
                if row.reportable and row.type == "sample" and row.sampler_id in at_points:
                    qualifiers.add(qualifier(row))
                    codes.update(mark.code for mark in marks.of(row.sampler_id, *row.key))
    return qualifiers - {""}, codes


def _sources(context: Context) -> Iterator[Note]:
    """Name the files that the results were read from."""
    about = say("sheets.about_source")
    found = {
        (called(row.origin.file, row.origin.sheet), one.survey.folder.sha256(row.origin.file)): None
        for one in context.rounds
        for row in one.results
    }
    yield from ((about, say("sheets.source", file=file, sha256=sha256)) for file, sha256 in found)
