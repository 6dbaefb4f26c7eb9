"""The notes in the folders that people take away: plain text, 78 characters wide, a heading over each part."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from sitegen.report.field.surveyed import place_crs, system_text, unit_text
from sitegen.report.record.exports import ExportField, ExportTable
from sitegen.report.record.pages import Meta, Volume
from sitegen.report.record.takeaway import BY_POINT
from sitegen.report.write.context import Context
from sitegen.report.write.words import say

_WIDTH = 78
_FEATURES = "features_"


class _Part(NamedTuple):
    """A part of a note: its heading, and paragraphs; of a list each begins a line of its own."""

    head: str
    texts: Sequence[str]
    is_list: bool = False


def office_note(context: Context, meta: Meta, exports: Sequence[ExportTable], volumes: Sequence[Volume]) -> str:
    """Return what the folder for the office says of itself."""
    told = _facts(context, meta)
    names = [volume.file.rpartition("/")[2] for volume in volumes]
    report = say("takeaway.office_report", **told, volumes=names)
    files = (report, say("takeaway.office_workbook"), say("takeaway.office_tables"))
    tables = [f"{one.name}: {one.title}. {one.note.rstrip('.')}." for one in exports]
    parts = (
        _opening(context, "office", told),
        _Part(_head("files"), files, is_list=True),
        *_rules(context, told),
        _Part(_head("sheets"), tables, is_list=True),
    )
    return _written(meta, parts)


def gis_note(context: Context, meta: Meta, exports: Sequence[ExportTable], tables: Sequence[ExportTable]) -> str:
    """Return what the folder for GIS says of itself: how to load it, its systems, each layer and each column."""
    told = _facts(context, meta)
    wide = [one for one in tables if one.name.startswith(BY_POINT)]
    others = [one for one in (*tables, *exports) if one not in wide]
    parts = (
        _opening(context, "gis", told),
        _Part(_head("load"), [say(f"takeaway.load_{key}", **told) for key in ("package", "geojson", "styles")]),
        _Part(_head("systems"), [say("takeaway.systems", **told)]),
        *_rules(context, told),
        *((_Part(_head("wide"), [*map(_about, wide), *_wide_columns(wide)], is_list=True),) if wide else ()),
        _Part(_head("layers"), [*map(_about, others), *_about_features(context)], is_list=True),
        *(_Part(one.name, [*_columns(one.fields)], is_list=True) for one in others if not _explains(one)),
    )
    return _written(meta, parts)


def _head(name: str) -> str:
    return say(f"takeaway.{name}_head").upper()


def _explains(one: ExportTable) -> bool:
    """Tell whether a table is the list of all columns, which says itself what its columns are."""
    return one.name == "columns"


def _facts(context: Context, meta: Meta) -> dict[str, object]:
    code = place_crs(context)
    return {
        "meta": meta,
        "unit": context.mass_unit.text,
        "system": system_text(code),
        "system_unit": unit_text(code),
        "surveyed": system_text(context.survey.settings.space.crs),
        "same": code == context.survey.settings.space.crs,
        "results": context.with_results,
        "rounds": [one.campaign.name for one in context.rounds] if context.earlier else [],
        "display": context.display,
    }


def _opening(context: Context, folder: str, told: dict[str, object]) -> _Part:
    texts = [say(f"takeaway.{folder}_lead", **told), say("export.report", **told), say("export.state", **told)]
    return _Part(_head(folder), texts + ([say("takeaway.rounds", **told)] if context.earlier else []))


def _rules(context: Context, told: dict[str, object]) -> Iterator[_Part]:
    if context.with_results:
        keys = ("takeaway.mass", "takeaway.nondetects", "export.marks")
        yield _Part(_head("rules"), [say(key, **told) for key in keys])


def _about(one: ExportTable) -> str:
    return say("takeaway.layer", name=one.name, title=one.title, note=one.note.rstrip("."), rows=len(one.rows),
               placed=bool(one.places or one.shapes), linked=_is_linked(one))  # fmt: skip


def _is_linked(one: ExportTable) -> bool:
    return any(link.table == "locations" for link in one.links)


def _about_features(context: Context) -> Iterator[str]:
    kinds = dict.fromkeys(feature.kind for feature in context.survey.features)
    if kinds:
        yield say("takeaway.features", kinds=[f"{_FEATURES}{kind}" for kind in kinds])


def _wide_columns(wide: Sequence[ExportTable]) -> Iterator[str]:
    """Yield the columns of the wide tables: those of the point, then those of a compound, told once."""
    point = [field for field in wide[0].fields if not _of_compound(field)]
    yield from _columns(point)
    yield say("takeaway.compound_columns", compounds=[*_compounds(wide)])
    for ending in ("mass", "concentration", "text", "qualifier", "marks", "class", "ringed"):
        if any(field.name.endswith(f"_{ending}") for one in wide for field in one.fields):
            yield say("takeaway.compound_column", ending=ending, meaning=say(f"takeaway.{ending}_short"))


def _of_compound(field: ExportField) -> bool:
    return field.name != "sampler_marks" and field.name.endswith(_ENDINGS)


_ENDINGS = ("_mass", "_concentration", "_text", "_qualifier", "_marks", "_class", "_ringed")


def _compounds(wide: Iterable[ExportTable]) -> Iterator[str]:
    """Yield each compound with what its columns begin with, in order of first appearance."""
    found = {
        field.name.removesuffix("_text"): field.meaning
        for one in wide
        for field in one.fields
        if field.name.endswith("_text")
    }
    for name, meaning in found.items():
        yield f"{name} ({meaning.partition(':')[0]})"


def _columns(fields: Iterable[ExportField]) -> Iterator[str]:
    for field in fields:
        unit = f" [{field.unit}]" if field.unit else ""
        yield f"{field.name}{unit}: {field.meaning}"


def _written(meta: Meta, parts: Iterable[_Part]) -> str:
    lines = [*_wrapped(meta.title), ""]
    for part in parts:
        lines += [part.head, "-" * min(len(part.head), _WIDTH)]
        for text in part.texts:
            lines += _wrapped(text, "    ") if part.is_list else [*_wrapped(text), ""]
        lines += [""] if part.is_list else []
    return "\n".join(lines)


def _wrapped(text: str, indent: str = "") -> list[str]:
    """Return a text in lines, those after the first set in; no control character of a record stays."""
    plain = "".join(letter if letter.isprintable() else " " for letter in text)
    return textwrap.wrap(plain, _WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
