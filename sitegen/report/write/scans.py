"""Scans of field sheets and forms: which of them the report has, and the cell that leads to one."""

from __future__ import annotations

import math
from collections.abc import Iterator

from sitegen.project.read.scans import scan_kind
from sitegen.project.survey import Survey
from sitegen.project.tables import CustodyEvent, Deployment, Shipment
from sitegen.report.record.pages import Cell, Ref
from sitegen.report.write.publish import allowed_classes
from sitegen.voice import worded


def shown_scans(survey: Survey) -> tuple[str, ...]:
    """Return the files that rows name as their scan and that the report may show, in order of path.

    Those in ``private/`` never are.
    """
    return tuple(file for file in sorted(set(_named(survey))) if _may_show(survey, file))


def _may_show(survey: Survey, file: str) -> bool:
    allowed = "scans" in allowed_classes(survey.settings.publish)
    return allowed and not file.startswith("private/") and bool(scan_kind(file, survey.folder.content(file)))


def _named(survey: Survey) -> Iterator[str]:
    yield from (row.scan_file for row in survey.rows(Deployment))
    yield from (row.scan_file for row in survey.rows(Shipment))
    yield from (row.scan_file for row in survey.rows(CustodyEvent))


def scan_ref(survey: Survey, file: str, page: float = math.nan) -> Ref | None:
    """Return what leads to a scan, and to a page of it; None where the report does not have it."""
    if not _may_show(survey, file):
        return None
    return Ref("scan", file, "" if math.isnan(page) else f"{page:.0f}")


def scan_cell(survey: Survey, file: str, page: float = math.nan) -> Cell:
    """Return a scan by its file and page, as the row names them, with the link where there is one."""
    text = file if math.isnan(page) else worded("{file}, page {page:.0f}", file=file, page=page)
    return Cell(text, scan_ref(survey, file, page))
