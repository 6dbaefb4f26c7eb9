"""Scans of field sheets and forms: which of them the report has, and what leads to them."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

import byhand_survey as survey
import pytest
from PIL import Image

from sitegen.checking import check_snapshot
from sitegen.pipeline import prepare, scanned
from sitegen.project.folder import Folder, InputFile
from sitegen.render.site.paths import scan_file
from sitegen.render.site.pictures import has_metadata
from sitegen.report.assemble import assemble
from sitegen.report.record.pages import Cell, Facts, Page, Ref, Report, Section, Table

PDF = b"%PDF-1.7\n"
FILES = {"records/day 1.pdf": PDF, "records/page.html": b"<script>alert(1)</script>", "records/false.png": b"<html>"}


def photographed() -> bytes:
    """Return a sheet as a telephone takes it: a picture that tells its maker."""
    exif = Image.Exif()
    exif[271] = "Maker"  # Make, of Exif 2.3
    out = BytesIO()
    Image.new("L", (8, 8), 255).save(out, "JPEG", exif=exif)
    return out.getvalue()


def folder(scan: str, level: str = "internal", withhold: str = "") -> Folder:
    """Return the survey worked by hand in which SG-1's sheet is page 3 of ``scan``, as are a form and an event."""
    files = dict(survey.FILES)
    files["field/deployments.csv"] = files["field/deployments.csv"].replace(
        "RB-1,yes,FS-1,FS-1,,,\n0102", f"RB-1,yes,FS-1,FS-1,{scan},3,\n0102"
    )
    files["field/shipments.csv"] = files["field/shipments.csv"].replace("7001,intact,,", f"7001,intact,,{scan}")
    files["field/custody.csv"] = files["field/custody.csv"].replace("ink,5501,,,,\n", f"ink,5501,,,{scan},\n")
    publish = f'[publish]\nlevel = "{level}"\nwithhold = [{withhold}]\n'
    files["project.toml"] = files["project.toml"].replace("[publish]\n", publish)
    plain = survey.folder(files)
    shown = {**FILES, "records/sheet.jpg": photographed()}
    added = {name: InputFile(name, "0" * 64, content) for name, content in shown.items()}
    return replace(plain, files=dict(sorted((plain.files | added).items())))


def made(scan: str, level: str = "internal", withhold: str = "") -> tuple[Report, dict[str, bytes]]:
    read, draft, _ = prepare(check_snapshot(folder(scan, level, withhold)))
    return assemble(draft), scanned(draft, read)


def cells(page: Page) -> list[Cell]:
    """Return every cell of a page's facts and tables."""
    blocks = [inner for block in page.blocks for inner in (block.blocks if isinstance(block, Section) else (block,))]
    facts = [cell for block in blocks if isinstance(block, Facts) for _, cell in block.rows]
    return facts + [cell for block in blocks if isinstance(block, Table) for row in block.rows for cell in row]


def leading(report: Report) -> dict[tuple[str, str], set[tuple[str, Ref | None]]]:
    """Return what names a scan, by page: the cell's text and where it leads."""
    found: dict[tuple[str, str], set[tuple[str, Ref | None]]] = {}
    for page in report.pages:
        for cell in cells(page) if page.ref.kind in ("location", "shipment", "bag") else ():
            if "records/" in cell.text:
                found.setdefault((page.ref.kind, page.ref.id), set()).add((cell.text, cell.ref))
    return found


def test_a_sheet_a_form_and_an_event_lead_to_their_scan() -> None:
    """The field sheet opens at its page; the file stands once on the site, under a name that any system takes."""
    report, files = made("records/day 1.pdf")
    assert list(files.values()) == [PDF]
    (name,) = files
    assert name.startswith("scans/records-day-1-")
    assert name.endswith(".pdf")
    there = leading(report)
    assert there["location", "SG-1"] == {("records/day 1.pdf, page 3", Ref("scan", "records/day 1.pdf", "3"))}
    assert there["shipment", "SH-1"] == {("records/day 1.pdf", Ref("scan", "records/day 1.pdf"))}
    ((text, ref),) = there["bag", "RB-1"]
    assert text.endswith("; records/day 1.pdf")
    assert ref == Ref("scan", "records/day 1.pdf")


@pytest.mark.parametrize("scan", ["records/page.html", "records/false.png"])
def test_what_a_browser_could_run_is_named_and_not_shown(scan: str) -> None:
    """A page, and a file whose bytes are not what its ending says, stay in the folder."""
    report, files = made(scan)
    assert files == {}
    assert leading(report)["location", "SG-1"] == {(f"{scan}, page 3", None)}


@pytest.mark.parametrize("level", ["client", "public"])
def test_a_report_for_others_has_no_scan(level: str) -> None:
    """Whoever signed a sheet is named on it, and no program reads handwriting."""
    report, files = made("records/day 1.pdf", level)
    assert files == {}
    refs = {ref for found in leading(report).values() for _, ref in found}
    assert not any(ref and ref.kind == "scan" for ref in refs)


def test_a_scan_that_is_a_photograph_tells_no_more_than_photographs() -> None:
    """Where what a camera wrote is withheld, it is taken out of scans too; the picture stays."""
    _, whole = made("records/sheet.jpg")
    assert list(whole.values()) == [photographed()]
    _, bare = made("records/sheet.jpg", withhold='"photo_metadata"')
    ((name, content),) = bare.items()
    assert not has_metadata(content)
    assert name in whole
    with Image.open(BytesIO(content)) as picture:
        assert picture.size == (8, 8)


def test_scans_whose_endings_differ_in_case_are_two_files() -> None:
    """On the site each has a name of its own, so that neither is shown in place of the other."""
    assert scan_file("records/day.PDF") != scan_file("records/day.pdf")
    assert scan_file("records/day.PDF").endswith(".pdf")
