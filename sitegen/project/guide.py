"""The guide to the columns, for the person who fills the folder in, made from the format.

``python -m sitegen.project.guide`` prints ``project_template/COLUMNS.md``.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

from sitegen.project import limits
from sitegen.project.intake.allowed import CONDITIONS, defaults_guide
from sitegen.project.place.corners import COLUMNS
from sitegen.project.schema import FEATURE_KINDS, SECOND_LOG, Column, Kind, Presence, TableSpec
from sitegen.project.tables import TABLES

_LEAD = f"""# Every column of every table

Generated from the program's list of columns, so that it agrees with what is read. **Bold**
columns must be present and filled in; those labelled *column needed* must be present, though a
cell may be blank. Columns may be in any order. A column not listed here is not
read (reported as a flag), unless its name begins with `x_`.
Words are written exactly as here. A unit is part of the column's name, never of a cell.

A table may be a CSV file, a workbook of the same name (`field/samplers.xlsx`) or a sheet of
`survey.xlsx` named after it (`samplers`). Dates entered as dates in a workbook are read as such;
dates, times and numbers entered as text are written as here, or as declared for the file in `project.toml`
(README.md, "How to save the tables").

A number outside the range given here stops the build: its unit or a digit is wrong. An id
has at most {limits.ID.text}, a list of ids {limits.IDS.value:,}, a path {limits.PATH.value:,},
any other text {limits.TEXT.value:,} unless fewer are given.
"""

_FORMS = {
    Kind.ID: "id, as text",
    Kind.IDS: "ids separated by `;`",
    Kind.TEXT: "text",
    Kind.NUMBER: "number, `12.5`",
    Kind.INTEGER: "whole number",
    Kind.TIME: "`2025-10-23T08:11`",
    Kind.DATE: "`2025-10-23`",
    Kind.FLAG: "`yes` or `no`",
    Kind.PATH: "path inside the folder",
    Kind.CAS: "CAS number, `127-18-4`",
}


def columns_guide() -> str:
    """Return the guide as Markdown: each table with its columns, then the features of the site.

    >>> "| **`sampler_id`** | id, as text | the serial on the sampler |" in columns_guide()
    True
    """
    tables = (line for spec in TABLES for line in _table(spec))
    return "\n".join((_LEAD, *tables, *_features(), *_defaults()))


_TYPED_TWICE = (
    f" The log may be entered a second time from the same sheets as `{SECOND_LOG}`, with the same columns: the two are "
    "compared cell by cell, a difference blocks issue until it is corrected or decided, and no result comes from it."
)


def _table(spec: TableSpec) -> Iterator[str]:
    need = "" if spec.presence is Presence.OPTIONAL else f" ({spec.presence.value})"
    yield f"## `{spec.path}`{need}\n"
    once = f" Each {' + '.join(f'`{name}`' for name in spec.key)} occurs once." if spec.key else ""
    yield f"{spec.meaning}{once}{_TYPED_TWICE if spec.name == 'deployments' else ''}\n"
    yield "| column | content | meaning |\n| --- | --- | --- |"
    yield from (f"| {_name(column)} | {_holds(column)} | {column.meaning} |" for column in spec.columns)
    yield ""


def column_note(column: Column) -> str:
    """Say of a column what it holds and means, as a note beside its header has room for.

    >>> from sitegen.project.tables import TABLE
    >>> column_note(TABLE["samplers"].column("sampler_id"))
    'Must be filled in. id, as text: the serial on the sampler'
    """
    need = "Must be filled in. " if column.required else "The column must be present. " if column.needed else ""
    holds = _ENTERED.get(column.kind) or _holds(column)
    for spec in TABLES:
        holds = holds.replace(f"`{spec.path}`", f"the sheet {spec.name}")
    return f"{need}{holds}: {column.meaning}".replace("`", "")


_ENTERED = {Kind.TIME: "local date and time, shown as 2025-10-23 08:11", Kind.DATE: "date, shown as 2025-10-23"}
"""How times look in a workbook, which knows them whatever their form."""


def _name(column: Column) -> str:
    name = f"`{column.name}`"
    return f"**{name}**" if column.required else f"{name} *column needed*" if column.needed else name


def _holds(column: Column) -> str:
    if column.kind is Kind.CHOICE:
        return "one of " + ", ".join(f"`{choice}`" for choice in column.choices)
    unit = f" ({column.unit})" if column.unit else ""
    path = next((spec.path for spec in TABLES if spec.name == column.refers), "")
    listed = f", listed in `{path}`" if path else ""
    return f"{_FORMS[column.kind]}{unit}{listed}{_bounds(column)}"


def _bounds(column: Column) -> str:
    """Say which numbers a column may hold; of texts the lengths are told at the head."""
    if column.range is not None:
        return f", {column.range.text}"
    return f", at most {column.longest.text}" if column.longest is limits.NAME else ""


def bounds_guide() -> str:
    """Return the table of the sizes and lengths that are read, as Markdown.

    >>> "| a table | 1,000,000 rows |" in bounds_guide()
    True
    """
    rows = (f"| {bound.name} | {bound.text} | {bound.reason} |" for bound in limits.BOUNDS)
    return "\n".join(("| item | at most | reason |", "| --- | --- | --- |", *rows))


def _features() -> Iterator[str]:
    yield "## `locations/features.geojson` (expected)\n"
    yield (
        "GeoJSON in WGS 84 degrees, longitude first; or another file with the same properties, as in README.md, "
        "under *Positions and shapes*. Properties of each feature:\n"
    )
    yield "| property | content | meaning |\n| --- | --- | --- |"
    kinds = ", ".join(f"`{kind}`" for kind in FEATURE_KINDS)
    yield f"| **`kind`** | one of {kinds} | kind of feature; exactly one `site_boundary` |"
    yield "| `name` | text | the name on the maps |"
    yield "| `public` | `yes` or `no` | `no` excludes it from reports for others |"
    yield "| `surface` | as in `locations/locations.csv` | material of the paving |"
    yield "| `utility_type` | text | service carried by a utility: `gas`, `sewer`, `power` |"
    yield "| `occupied` | `yes` or `no` | whether people use a building; determines cautions and access checks |"
    yield "| `basement` | `yes` or `no` | whether a building has one |"
    yield "| `use` | text | use of a building |"
    yield "| `land_use` | as in `reference/screening_levels.csv` | land use whose levels apply in a building |"
    yield "| `land_use_source` | text | document that states the land use |\n"
    yield "## `locations/corners.csv` (alternative)\n"
    yield "Features entered as corners, one row each. Any further column is a property of the feature.\n"
    yield "| column | meaning |\n| --- | --- |"
    needed = ("feature", "kind", "order")
    yield from (f"| {f'**`{name}`**' if name in needed else f'`{name}`'} | {text} |" for name, text in COLUMNS.items())
    yield ""


def _defaults() -> Iterator[str]:
    yield "## Columns that may have a default\n"
    yield "`project.toml` may state these once (README.md, *Nothing typed twice*); no other column has a default.\n"
    yield from defaults_guide()
    yield "\n| table | conditions of a where row |\n| --- | --- |"
    yield from (f"| `{table}` | {', '.join(map(_condition, known.items()))} |" for table, known in CONDITIONS.items())
    yield ""


def _condition(condition: tuple[str, str]) -> str:
    name, time = condition
    return f"`{name}` (the day of `{time}`)" if time else f"`{name}`"


if __name__ == "__main__":
    sys.stdout.write(columns_guide())
