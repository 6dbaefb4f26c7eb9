"""What a row is about, in a person's words: the point and the sampler, the bag or the shipment."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from sitegen.findings.problems import Finding, RowNames
from sitegen.project.survey import Survey, SurveyTable
from sitegen.voice import worded

_Row = Mapping[Any, Any]
_OWN = {"return_bags": "bag", "shipments": "shipment"}
"""Tables whose rows are named by their own key."""


def row_names(survey: Survey | None, findings: Iterable[Finding]) -> RowNames:
    """Return what the rows of findings are about, by file and row; a row without point or sampler has no name.

    A row of a laboratory's own file that stands for several samplers has none either.
    """
    if survey is None:
        return {}
    wanted: dict[str, set[int]] = {}
    for finding in findings:
        if finding.where.row is not None:
            wanted.setdefault(finding.where.file, set()).add(finding.where.row)
    links = _links(survey, "lab_samples", "sampler_id"), _links(survey, "deployments", "location_id")
    names: dict[tuple[str, int], set[str]] = {}
    for table in survey.tables.values():
        for file, row in _rows(table, wanted):
            names.setdefault((file, int(row["_row"])), set()).add(_name(table.spec.name, row, *links))
    return {place: name for place, found in names.items() for name in found if name and len(found) == 1}


def _links(survey: Survey, table: str, column: str) -> dict[str, str]:
    """Return a column of a table by its key, of a key that stands twice the first."""
    frame = survey.frame(table)
    key = survey.tables[table].spec.key[0]
    return dict(zip(reversed(frame[key].tolist()), reversed(frame[column].tolist()), strict=True))


def _rows(table: SurveyTable, wanted: Mapping[str, set[int]]) -> Iterator[tuple[str, _Row]]:
    """Yield the wanted rows of a table, each with its file."""
    frame = table.frame
    for file in sorted(wanted.keys() & set(frame["_file"].unique())):
        rows = frame[(frame["_file"] == file) & frame["_row"].isin(wanted[file])]
        yield from ((file, row) for row in rows.to_dict("records"))


def _name(table: str, row: _Row, sampler_of: Mapping[str, str], point_of: Mapping[str, str]) -> str:
    if table in _OWN:
        return f"{worded(_OWN[table])} {row[f'{_OWN[table]}_id']}"
    if table == "custody":
        return " ".join(filter(None, (worded(row["subject_kind"]), row["subject_id"])))
    sampler = row.get("sampler_id") or sampler_of.get(row.get("lab_sample_id", ""), "")
    point = row.get("location_id") or point_of.get(sampler, "")
    return ", ".join(filter(None, (point, f"{worded('sampler')} {sampler}" if sampler else "")))
