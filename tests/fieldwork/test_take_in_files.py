"""How a take-in writes: in the form of each file, all of it or nothing, and never into a workbook."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest
from builders import rows_of
from field_exports import export_file, placing, planned_folder
from openpyxl import Workbook

from sitegen.fieldwork.takein.command import take_in
from sitegen.fieldwork.takein.writing import write_all
from sitegen.findings.problems import OutputFault, WrongUse
from sitegen.project.folder import read_folder
from sitegen.project.load import load_folder
from sitegen.project.tables import ReturnBag

PLACED = "field/deployments.csv"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a planned folder, whose check is left out."""
    monkeypatch.setattr("sitegen.fieldwork.takein.command.check", lambda *_: None)
    monkeypatch.setattr("sitegen.fieldwork.takein.command.check_line", lambda _: "checked")
    return planned_folder(tmp_path / "project")


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder, hidden ones too."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_table_is_written_in_its_own_form(folder: Path, tmp_path: Path) -> None:
    """Semicolons, cp1252, decimal commas, dates as day.month.year, unknown columns and their order are kept."""
    with (folder / "project.toml").open("a", encoding="utf-8") as settings:
        settings.write(
            '\n[files."field/deployments.csv"]\nencoding = "cp1252"\ndelimiter = ";"\ndecimal = ","\n'
            'dates = "day.month.year hour:minute"\n'
        )
    old = "x_crew;placed_at;sampler_id;location_id;depth_m;comment\r\nBär;;0047102;SG-01;0,90;\r\n"
    (folder / PLACED).write_bytes(old.encode("cp1252"))
    same = {"sampler_id": "0047102", "location_id": "SG-01", "depth_m": "0.9", "placed_at": "2025-10-22T09:12"}
    new = same | {"sampler_id": "0047103", "comment": "nass; früh"}
    outcome = take_in(folder, [export_file(tmp_path, deployments=[same, new])])
    assert outcome.done
    assert (folder / PLACED).read_bytes().decode("cp1252") == (
        "x_crew;placed_at;sampler_id;location_id;depth_m;comment\r\n"
        "Bär;22.10.2025 09:12;0047102;SG-01;0,90;\r\n"
        ';22.10.2025 09:12;0047103;SG-01;0,9;"nass; früh"\r\n'
    )


def test_a_table_that_is_not_there_is_made(folder: Path, tmp_path: Path) -> None:
    """Products have no file in a survey without air; the first one noted makes it."""
    product = {"product_id": "AB12-1", "location_id": "SG-01", "product": "floor wax", "state": "open"}
    assert take_in(folder, [export_file(tmp_path, products=[product])]).done
    assert rows_of((folder / "field/products.csv").read_bytes())[1][0]["product"] == "floor wax"


def test_a_table_that_is_not_there_is_made_as_it_will_be_read(folder: Path, tmp_path: Path) -> None:
    """The settings say how the file is written before it is there: in that form it is made, and read again."""
    with (folder / "project.toml").open("a", encoding="utf-8") as settings:
        settings.write('\n[files."field/return_bags.csv"]\ndelimiter = ";"\n')
    (folder / "field/return_bags.csv").unlink()
    assert take_in(folder, [export_file(tmp_path, return_bags=[{"bag_id": "RB-1", "note": "first; last"}])]).done
    header, row = (folder / "field/return_bags.csv").read_text("utf-8").splitlines()
    assert header.startswith("bag_id;")
    assert '"first; last"' in row
    survey, _ = load_folder(read_folder(folder))
    assert survey is not None
    assert [bag.note for bag in survey.rows(ReturnBag)] == ["first; last"]


def test_a_workbook_is_typed_into_by_a_person(folder: Path, tmp_path: Path) -> None:
    """The rows stand in a CSV file of their own; once they are typed it is gone and the run is done."""
    (folder / PLACED).unlink()
    export = export_file(tmp_path, deployments=[placing("0047102", "SG-01"), placing("0047103", "SG-02")])
    first = {"sampler_id": "0047102", "location_id": "SG-01"}
    _book(folder / "survey.xlsx", first)
    outcome = take_in(folder, [export])
    assert not outcome.done
    assert any(
        "a workbook is not edited; to type into it, records/field/to_type/deployments.csv" in line
        for line in outcome.lines
    )
    header, rows = rows_of((folder / "records/field/to_type/deployments.csv").read_bytes())
    assert rows[0] == {name: (placing("0047102", "") | {"location_id": ""}).get(name, "") for name in header}
    assert rows[1] == {name: placing("0047103", "SG-02").get(name, "") for name in header}
    _book(folder / "survey.xlsx", placing("0047102", "SG-01"), placing("0047103", "SG-02"))
    assert take_in(folder, [export]).done
    assert not (folder / "records/field/to_type/deployments.csv").exists()


def _book(path: Path, *rows: dict[str, str]) -> None:
    """Write a workbook with the sheet deployments."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "deployments"
    header = list(placing("", ""))
    sheet.append(header)
    for row in rows:
        sheet.append([row.get(name, "") for name in header])
    book.save(path)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("sampler_id,location_id\n0047102,SG-01,\n0047102,SG-02,\n", "0047102 stands in row 2 too"),
        ('sampler_id,location_id\n"0047102,SG-01\n', "does not end within"),
        ("sampler_id,location_id\n0047102\n", "1 cells"),
        ("serial,location_id\n0047102,SG-01\n", "no column sampler_id"),
    ],
)
def test_a_table_with_a_fault_is_mended_first(folder: Path, tmp_path: Path, text: str, why: str) -> None:
    """Nothing is merged into a table of which a row could be taken for another: no file is written."""
    (folder / PLACED).write_text(text, "utf-8")
    before = contents(folder)
    rows = [{"sampler_id": "0047104", "outcome": "lost"}]
    outcome = take_in(folder, [export_file(tmp_path, samplers=rows, deployments=[placing("0047102", "SG-01")])])
    assert not outcome.done
    assert why in outcome.lines[-1]
    assert outcome.lines[-1].endswith("Correct it first; nothing was written.")
    assert contents(folder) == before


def test_settings_that_can_not_be_read_are_told(folder: Path, tmp_path: Path) -> None:
    """Without a project's id nobody can say whether an export is the project's."""
    (folder / "project.toml").write_text("[project\n", "utf-8")
    outcome = take_in(folder, [export_file(tmp_path, deployments=[placing("0047102", "SG-01")])])
    assert not outcome.done
    assert "project.toml can't be read" in outcome.lines[0]


def test_where_one_file_can_not_be_written_all_stay_as_they_were(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk refuses the last of three names: those given before it are put back, and nothing is left aside."""
    before = contents(folder)
    rows = [{"sampler_id": "0047104", "outcome": "lost"}]
    export = export_file(tmp_path, samplers=rows, deployments=[placing("0047102", "SG-01")])
    replace, given = Path.replace, []

    def refuse(self: Path, target: Path) -> Path:
        given.append(target.name)
        if target.name == "deployments.csv":
            raise OSError(28, "No space left on device")
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(OutputFault, match="No space left on device; its tables are as they were"):
        take_in(folder, [export])
    assert given[:3] == ["field-AB12-1.json", "samplers.csv", "deployments.csv"]
    assert contents(folder) == before


def test_a_file_that_changed_meanwhile_is_not_written_over(folder: Path) -> None:
    """A spreadsheet saved the table between reading and writing: what it saved stays."""
    snapshot = read_folder(folder)
    (folder / PLACED).write_text("saved meanwhile", "utf-8")
    with pytest.raises(WrongUse, match="changed while it was read"):
        write_all(folder, snapshot, {"field/samplers.csv": b"new", PLACED: b"new"})
    assert (folder / PLACED).read_text("utf-8") == "saved meanwhile"
    assert (folder / "field/samplers.csv").read_bytes() != b"new"


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_nothing_is_written_through_a_link(folder: Path, tmp_path: Path) -> None:
    """A link in place of records/ would lead the originals out of the folder."""
    outside = tmp_path / "outside"
    outside.mkdir()
    (folder / "records").symlink_to(outside)
    with pytest.raises(WrongUse, match="leads out of the folder"):
        take_in(folder, [export_file(tmp_path, deployments=[placing("0047102", "SG-01")])])
    assert list(outside.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_a_table_that_is_a_link_is_not_replaced(folder: Path, tmp_path: Path) -> None:
    """A link to another file of the folder would become a file of its own, and the other would stay behind."""
    (folder / "records").mkdir()
    (folder / PLACED).rename(folder / "records/placed.csv")
    (folder / PLACED).symlink_to(folder / "records/placed.csv")
    with pytest.raises(WrongUse, match="is a link"):
        take_in(folder, [export_file(tmp_path, deployments=[placing("0047102", "SG-01")])])
    assert (folder / PLACED).is_symlink()


@pytest.mark.skipif(os.name == "nt", reason="modes are of POSIX")
def test_the_rights_of_a_table_are_kept(folder: Path, tmp_path: Path) -> None:
    """A table that the group may write can be written by the group afterwards (POSIX file modes)."""
    (folder / PLACED).chmod(0o664)
    assert take_in(folder, [export_file(tmp_path, deployments=[placing("0047102", "SG-01")])]).done
    assert (folder / PLACED).stat().st_mode & 0o777 == 0o664
