"""The lists that lead to rows as received: each file with its rows and its sum, each laboratory sample with its way."""

from __future__ import annotations

import hashlib

from builders import EXAMPLE, rows_of

from sitegen.pipeline import Built
from sitegen.report.record.pages import Cell, Ref
from sitegen.report.trace.printed import tables_in


def table_rows(built: Built, name: str) -> list[tuple[Cell, ...]]:
    """Return the rows of a table of the page on sources."""
    page = next(page for page in built.report.pages if page.ref == Ref("page", "sources"))
    return list(next(table for table in tables_in(page.blocks) if table.id == name).rows)


def read(path: str) -> list[dict[str, str]]:
    return rows_of((EXAMPLE / path).read_bytes())[1]


def test_each_laboratory_sample_is_listed_with_its_sampler_its_point_and_its_file(built: Built) -> None:
    """By lab_samples.csv and deployments.csv, in the order of results.csv; a method blank has neither."""
    sampler = {row["lab_sample_id"]: row["sampler_id"] for row in read("lab/lab_samples.csv")}
    point = {row["sampler_id"]: row["location_id"] for row in read("field/deployments.csv")}
    names = dict.fromkeys(row["lab_sample_id"] for row in read("lab/results.csv"))
    stated = {name: (sampler[name].replace("NA", ""), point.get(sampler[name], "")) for name in names}
    rows = table_rows(built, "source-samples")
    assert [tuple(cell.text for cell in row) for row in rows] == [
        (name, of or "–", at or "–", "lab/results.csv") for name, (of, at) in stated.items()
    ]
    assert [tuple(cell.ref for cell in row) for row in rows] == [
        (Ref("source", name), Ref("sampler", of) if of else None, Ref("location", at) if at else None, None)
        for name, (of, at) in stated.items()
    ]
    assert {at for _, at in stated.values()} > {"", "SG-01"}


def test_each_file_of_a_table_is_listed_with_its_rows_and_its_sum(built: Built) -> None:
    for file, rows, sha in table_rows(built, "source-files"):
        content = (EXAMPLE / file.text).read_bytes()
        assert sha.text == hashlib.sha256(content).hexdigest()
        assert rows.text == f"{len(rows_of(content)[1]):,}"
        assert file.ref is not None
