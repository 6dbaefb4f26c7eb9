"""The notes in the folders that people take away: plain text, 78 characters wide, a heading over each part."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from sitegen.report.field.surveyed import place_crs, system_text, unit_text
from sitegen.report.record.exports import ExportField, ExportTable
from sitegen.report.record.pages import Meta, Volume
from sitegen.report.record.takeaway import BY_POINT
from sitegen.report.write.context import Context
from sitegen.report.write.words import say

_WIDTH = 78
_FEATURES = "features_"


def office_note(context: Context, meta: Meta, exports: Sequence[ExportTable], volumes: Sequence[Volume]) -> str:
    """Return what the folder for the office says of itself."""
    told = _facts(context, meta)
    names = [volume.file.rpartition("/")[2] for volume in volumes]
    parts = (
        *_opening(context, "office", told),
        ("takeaway.files_head", [say("takeaway.office_report", **told, volumes=names), say("takeaway.office_workbook"),
                                 say("takeaway.office_tables")]),
        *_rules(context, told),
        ("takeaway.sheets_head", [f"{one.name}: {one.title}. {one.note.rstrip('.')}." for one in exports]),
    )  # fmt: skip
    return _written(meta, parts)


def gis_note(context: Context, meta: Meta, exports: Sequence[ExportTable], tables: Sequence[ExportTable]) -> str:
    """Return what the folder for GIS says of itself: how to load it, its systems, each layer and each column."""
    told = _facts(context, meta)
    every = (*tables, *exports)
    wide = [one for one in tables if one.name.startswith(BY_POINT)]
    others = [one for one in every if not one.name.startswith(BY_POINT)]
    load = [say(f"takeaway.{key}", **told) for key in ("load_package", "load_geojson", "load_styles")]
    parts = (
        *_opening(context, "gis", told),
        ("takeaway.load_head", load),
        ("takeaway.systems_head", [say("takeaway.systems", **told)]),
        *_rules(context, told),
        *((("takeaway.wide_head", [*map(_about, wide), *_wide_columns(wide)]),) if wide else ()),
        ("takeaway.layers_head", [*map(_about, others), *_about_features(context)]),
        *((_titled(one), [*_columns(one.fields)]) for one in others if not _explains(one)),
    )
    return _written(meta, parts)


def _explains(one: ExportTable) -> bool:
    """Tell whether a table is the list of all columns, which says itself what its columns are."""
    return one.name == "columns"


def _titled(one: ExportTable) -> str:
    return f"={one.name}"


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


def _opening(context: Context, folder: str, told: dict[str, object]) -> Iterator[tuple[str, list[str]]]:
    lines = [say(f"takeaway.{folder}_lead", **told), say("export.report", **told), say("export.state", **told)]
    lines += [say("takeaway.rounds", **told)] if context.earlier else []
    yield f"takeaway.{folder}_head", lines


def _rules(context: Context, told: dict[str, object]) -> Iterator[tuple[str, list[str]]]:
    if context.with_results:
        keys = ("export.mass", "takeaway.nondetects", "export.marks")
        yield "takeaway.rules_head", [say(key, **told) for key in keys]


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


def _written(meta: Meta, parts: Iterable[tuple[str, list[str]]]) -> str:
    lines = [*_wrapped(meta.title), ""]
    for key, told in parts:
        head = key.removeprefix("=") if key.startswith("=") else say(key).upper()
        lines += [head, "-" * min(len(head), _WIDTH)]
        for text in told:
            lines += _wrapped(text)
        lines.append("")
    return "\n".join(lines)


def _wrapped(text: str) -> list[str]:
    """Return a text in lines, those after the first set in; no control character of a record stays."""
    plain = "".join(letter if letter.isprintable() else " " for letter in text)
    return textwrap.wrap(plain, _WIDTH, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)
