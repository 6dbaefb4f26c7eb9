"""A survey whose results come in a laboratory's own files builds like any other, with a preview."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from builders import Change, changed, write
from lab_files import crosstab_xlsx, mixed_xlsx
from longcases import mostly_long

from sitegen.pipeline import build
from sitegen.report.records import Section, Table

LAYOUTS = {"lab/cross.xlsx": crosstab_xlsx, "lab/mixed.xlsx": mixed_xlsx}


@pytest.mark.parametrize("file", mostly_long(LAYOUTS, len(LAYOUTS)))
def test_the_preview_sets_original_rows_beside_mapped_rows(file: str, tmp_path: Path) -> None:
    """The page shows the file's digest, its rows as received and the same rows as results; links hold."""
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
