"""Labels: every QR code is read back by another library, on the label that it belongs to."""

from __future__ import annotations

import io
import json
import shutil
import subprocess
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pypdf
import pytest
import typst
import zxingcpp
from builders import Change, content, setting
from fieldwork.planned_survey import forty, planned
from PIL import Image

from sitegen.compute.design.allocation import Allocation, Slot
from sitegen.compute.design.fieldplan import FieldPlan
from sitegen.fieldwork.kit import labels, typeset
from sitegen.fieldwork.kit.checkletters import check_letters, qr_text, read_qr_text
from sitegen.fieldwork.kit.labels import DEFAULT, SHEETS, label_sheets, labels_pdf
from sitegen.glyphs import font_folder
from sitegen.voice import Voice

PAPERS_MM = {"a4": (210.0, 297.0), "us-letter": (215.9, 279.4)}
"""ISO 216 for A4; 8.5 by 11 in for Letter."""

PPI, FINE = 150, 300
"""A coarse printer's, and a usual one's, dots to the inch."""

Draw = Callable[..., list[Image.Image]]


def serials(*rows: str) -> Change:
    """Put samplers into the folder."""
    return content("field/samplers.csv", "\n".join(["sampler_id,label,kind", *rows, ""]).encode())


@pytest.fixture
def draw(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Draw:
    """Draw labels as grey pictures, from the template and the data that the PDF is made of."""
    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[str(font_folder())])

    def drawn(plan: FieldPlan, sheet: str, *changes: Change, ppi: int = PPI) -> list[Image.Image]:
        def take(template: str, data: Mapping[str, Any], *, paper: str, day: date) -> bytes:
            whole = {**data, "paper": paper, "day": day.isoformat()}
            for name, text in {**typeset._templates(Voice("uk")), "data.json": json.dumps(whole).encode()}.items():
                (tmp_path / name).write_bytes(text)
            main = tmp_path / f"{template}.typ"
            made = typst.compile(main, root=tmp_path, format="png", ppi=ppi, font_paths=fonts, ignore_system_fonts=True)
            each = made if isinstance(made, list) else [made]
            found.extend(Image.open(io.BytesIO(one)).convert("L") for one in each)
            return b""

        found: list[Image.Image] = []
        monkeypatch.setattr(labels, "set_pdf", take)
        labels_pdf(planned(*changes)[0], plan, sheet)
        return found

    return drawn


def by_place(pictures: Sequence[Image.Image], name: str, ppi: int = PPI) -> dict[int, str]:
    """Return the text of each QR code by the number of the label that its middle lies on."""
    sheet = SHEETS[name]
    found = {}
    for page, picture in enumerate(pictures):
        for code in zxingcpp.read_barcodes(picture):
            at = code.position
            corners = (at.top_left, at.top_right, at.bottom_left, at.bottom_right)
            x_mm, y_mm = (sum(getattr(c, axis) for c in corners) / 4 * 25.4 / ppi for axis in ("x", "y"))
            column, beyond_x = divmod(x_mm - sheet.left_mm, sheet.step_x_mm)
            row, beyond_y = divmod(y_mm - sheet.top_mm, sheet.step_y_mm)
            assert 0 < beyond_x < sheet.width_mm
            assert 0 < beyond_y < sheet.height_mm
            found[int((page * sheet.rows + row) * sheet.columns + column)] = code.text
    return found


@pytest.mark.parametrize("name", SHEETS)
def test_each_of_forty_labels_has_its_own_code(draw: Draw, name: str) -> None:
    """On each kind of sheet an independent decoder reads forty codes, each on the label of its sampler."""
    plan = forty()
    pictures = draw(plan, name)
    wanted = [qr_text(slot.label) for slot in plan.allocation.slots]
    assert len(wanted) == 40
    assert by_place(pictures, name) == dict(enumerate(wanted))
    for picture in pictures:
        sides = [pixels * 25.4 / PPI for pixels in picture.size]
        assert sides == pytest.approx(PAPERS_MM[SHEETS[name].paper], abs=0.2)


@pytest.mark.parametrize("name", SHEETS)
def test_a_sheet_of_labels_lies_on_its_paper(name: str) -> None:
    """Labels neither reach beyond the paper nor lie on one another, and stand in its middle."""
    sheet = SHEETS[name]
    width, height = PAPERS_MM[sheet.paper]
    right = sheet.left_mm + (sheet.columns - 1) * sheet.step_x_mm + sheet.width_mm
    bottom = sheet.top_mm + (sheet.rows - 1) * sheet.step_y_mm + sheet.height_mm
    assert width - right == pytest.approx(sheet.left_mm, abs=0.01)
    assert height - bottom == pytest.approx(sheet.top_mm, abs=0.01)
    assert sheet.step_x_mm >= sheet.width_mm
    assert sheet.step_y_mm >= sheet.height_mm


def test_a_serial_on_record_is_printed_and_is_what_the_code_says(draw: Draw) -> None:
    """A label that one sampler alone has carries its serial; one that two have carries none."""
    known = serials("0047102,SG-01,sample", "0047103,SG-02,sample", "0047104,SG-02,sample")
    made = label_sheets(planned(known)[0], forty())
    first, second = made.labels[:2]
    assert (first.serial, first.identity, first.letters) == ("0047102", "0047102", check_letters("0047102"))
    assert (second.serial, second.identity, second.letters) == ("", "SG-02", check_letters("SG-02"))
    found = by_place(draw(forty(), "a4-3x8", known), "a4-3x8")
    assert [read_qr_text(found[i]) for i in (0, 1)] == ["0047102", "SG-02"]


def test_long_and_foreign_ids_are_still_read(draw: Draw) -> None:
    """Long ids, small letters, and letters beyond ASCII fit the smallest label."""
    names = ["X" * 60, "a" * 40, "Größe-7", "测点-1", "=1+1", '<b>"#']
    plan = replace(
        forty(), allocation=Allocation(forty().allocation.counts, tuple(Slot(n, "sample", n) for n in names))
    )
    pictures = draw(plan, "a4-4x11", ppi=FINE)
    assert by_place(pictures, "a4-4x11", FINE) == {i: qr_text(name) for i, name in enumerate(names)}


@pytest.mark.parametrize(("paper", "name"), DEFAULT.items())
def test_the_pdf_says_what_a_label_says(paper: str, name: str) -> None:
    """The paper chooses the sheet; ids, use, project and the warning stand on it, the same bytes each time."""
    survey, _ = planned(setting("withhold = []", f'withhold = []\npaper = "{paper}"'), serials("0047102,SG-01,sample"))
    made = labels_pdf(survey, forty())
    assert made == labels_pdf(survey, forty())
    assert label_sheets(survey, forty()).name == name
    whole = "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(made)).pages)
    double = forty().allocation.of("field_duplicate")[0]
    for words in ("0047102", double.label, f"duplicate of {double.parent}", "trip blank", "spare", "KD-2025-01"):
        assert words in whole
    assert whole.count("ballpoint, no solvent marker") == 40
    assert whole.count("serial") == whole.count("date") == 40


@pytest.mark.long
@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="no program that draws pages of a PDF")
def test_codes_are_read_from_the_pdf_itself(tmp_path: Path) -> None:
    """The PDF drawn by another program at a printer's coarsest gives the same forty codes."""
    (tmp_path / "labels.pdf").write_bytes(labels_pdf(planned()[0], forty(), "letter-3x10"))
    command = ["pdftoppm", "-r", str(PPI), "-gray", "-png", str(tmp_path / "labels.pdf"), str(tmp_path / "page")]
    subprocess.run(command, check=True)
    pictures = [Image.open(path) for path in sorted(tmp_path.glob("page*.png"))]
    wanted = [qr_text(slot.label) for slot in forty().allocation.slots]
    assert by_place(pictures, "letter-3x10") == dict(enumerate(wanted))


def test_a_sheet_that_is_not_known_is_refused() -> None:
    """A name that is none of ours raises KeyError."""
    with pytest.raises(KeyError):
        label_sheets(planned()[0], forty(), "no-such-sheet")
