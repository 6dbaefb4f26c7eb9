"""A survey whose results come in a laboratory's own files builds like any other, with a preview."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from builders import Change, changed, write
from lab_files import crosstab_xlsx, mixed_xlsx
from longcases import mostly_long

from sitegen.pipeline import build
from sitegen.report.record.pages import Ref, Section, Table
from sitegen.report.trace.printed import tables_in

LAYOUTS = {"lab/cross.xlsx": crosstab_xlsx, "lab/mixed.xlsx": mixed_xlsx}
COLUMN = {"lab/cross.xlsx": "Data!04417-001", "lab/mixed.xlsx": "Sheet!Found"}
"""The column of the laboratory's file that the results of 04417-001 stand in."""


@pytest.mark.parametrize("file", mostly_long(LAYOUTS, len(LAYOUTS)))
def test_the_preview_sets_original_rows_beside_mapped_rows(file: str, tmp_path: Path) -> None:
    """The page shows the file's digest, its rows as received and the same rows as results; links hold.

    Each result says which column of the laboratory's own file it stands in, in data and on its page of sources.
    """
    content, mapping = LAYOUTS[file]()
    digest = hashlib.sha256(content).hexdigest()
    sealed = mapping.replace("[source]", f'[source]\nsha256 = "{digest}"').encode()
    folder = changed(
        Change("lab/results.csv", lambda _: None),
        Change(file, lambda _: content),
        Change(f"{file.partition('.')[0]}.map.toml", lambda _: sealed),
    )
    built = build(write(folder, tmp_path / "survey"), tmp_path / "out")
    page = next(page for page in built.report.pages if page.ref.id == "mapping")
    section = page.blocks[0]
    assert isinstance(section, Section)
    tables = [block for block in section.blocks if isinstance(block, Table)]
    assert [table.id for table in tables][:2] == ["received-1", "mapped-1-results"]
    assert all(table.rows for table in tables)
    assert digest in (built.out / "site/mapping.html").read_text("utf-8")
    results = next(table for table in built.report.exports if table.name == "results")
    sample, source, column = (results.at(name) for name in ("lab_sample_id", "source_file", "source_column"))
    stands = {(row[source], row[column]) for row in results.rows if row[sample] == "04417-001"}
    assert stands == {(file, COLUMN[file])}
    printed = {value.origin for value in built.report.values if value.page.id == "SG-50" and value.origin}
    assert (file, COLUMN[file]) in {(name, column) for name, _, column in printed}
    received = next(page for page in built.report.pages if page.ref == Ref("source", "04417-001"))
    places = {row[1].text.partition(", ")[2] for table in tables_in(received.blocks) for row in table.rows}
    assert places == {COLUMN[file].rpartition("!")[2]}, "the sheet stands beside the mapping"
