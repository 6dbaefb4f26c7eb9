"""Exports that were damaged or made to do harm: refused with the reason, and nothing of them is written."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from field_exports import change, export_file, placing, planned_folder, record, sealed

from sitegen.fieldwork.takein.command import take_in
from sitegen.fieldwork.takein.exports import RefusedError, read_export
from sitegen.fieldwork.takein.originals import copies
from sitegen.project import limits
from sitegen.project.folder import Folder

Data = dict[str, Any]
ZONE = "America/Chicago"


def reason(content: bytes) -> str:
    """Return why an export is refused."""
    with pytest.raises(RefusedError) as refused:
        read_export("field-AB12-1.json", content, "KD-2025-01", ZONE)
    return str(refused.value)


def placed(**more: str) -> Data:
    """Return a sound export with one placing, some of its cells set otherwise."""
    return record(deployments=[placing("0047102", "SG-01") | more])


def test_a_sound_export_is_read() -> None:
    """What the other tests damage is no reason for itself; text in other scripts, an emoji and marks are text."""
    comment = "– wet, 5 % “clay” \u05d0 \U0001f327 <b>x</b>\nnext line"
    export = read_export("a.json", sealed(placed(comment=comment, depth_ft="-0")), "KD-2025-01", ZONE)
    assert export.tables["deployments"]["0047102",]["comment"] == comment


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "no JSON"),
        (sealed(placed())[:-40], "no JSON"),
        (b"\xff\xfe{}", "not UTF-8"),
        (b"[]", "no JSON object"),
        (b"[" * 200_000, "too deep"),
        (b'{"a":' * 200_000, "too deep"),
        (b'{"device": NaN}', "the number 'NaN'"),
        (b'{"device": -Infinity}', "the number '-Infinity'"),
        (b'{"device": 1e999}', "the number '1e999'"),
        (b'{"device": ' + b"9" * 100_000 + b"}", "the number '9999"),
        (b'{"device": "AB12", "device": "CD34"}', "'device' stands in it twice"),
        (b'{"format": "sitegen field record 1"}', "lacks project"),
        (b" " * (limits.EXPORT_BYTES.value + 1), "more than 16,777,216 bytes"),
    ],
)  # fmt: skip
def test_what_is_no_export_is_refused(content: bytes, why: str) -> None:
    """Cut off, of other bytes, too deep, too large, with numbers, with a name twice (RFC 8259, 4 leaves that open)."""
    assert why in reason(content)


CASES: list[tuple[Callable[[Data], object], str]] = [
    (lambda data: data.update(format="sitegen field record 2"), "its format is"),
    (lambda data: data.update(project="KD-2025-02"), "it is of the project 'KD-2025-02'"),
    (lambda data: data.update(project=["KD-2025-01"]), "project is no text"),
    (lambda data: data.update(device="../x"), "its device is '../x'"),
    (lambda data: data.update(device="AB1٢"), "its device"),
    (lambda data: data.update(number="0"), "its number is '0'"),
    (lambda data: data.update(number="1e3"), "its number is '1e3'"),
    (lambda data: data.update(kit="<script>"), "its kit"),
    (lambda data: data.update(made_at="yesterday"), "its made_at"),
    (lambda data: data.update(extra="x"), "has 'extra'"),
    (lambda data: data.update(tables=[]), "tables is no object"),
    (lambda data: data["tables"].update(results=[]), "the table 'results'"),
    (lambda data: data["tables"].update(signoff=[{"revision": "1"}]), "the table 'signoff'"),
    (lambda data: data["tables"].update(deployments={}), "is no list of rows"),
    (lambda data: data["tables"].update(deployments=[["0047102"]]), "is no list of rows"),
    (lambda data: data["tables"].update(deployments=[{}] * 100_001), "more than 100,000"),
    (lambda data: data["tables"]["deployments"][0].update(x_own="1"), "the column 'x_own'"),
    (lambda data: data["tables"]["deployments"][0].update(depth_ft=None), "depth_ft is no text"),
    (lambda data: data["tables"]["deployments"][0].update(depth_ft={"value": "3"}), "depth_ft is no text"),
    (lambda data: data["tables"]["deployments"][0].update(sampler_id=" "), "lacks its sampler_id"),
    (lambda data: data["tables"]["deployments"].append(placing("0047102 ", "SG-02")), "twice"),
    (lambda data: data["changes"].append({"at": "x"}), "changes, row 1 lacks"),
    (lambda data: data["changes"].append(change("1", "value", "", "1", table="results")), "which is no column"),
    (lambda data: data["changes"].append(change("1", "value", "", "1")), "which is no column"),
    (lambda data: data.update(changes="none"), "changes is no list"),
]  # fmt: skip


@pytest.mark.parametrize(("harm", "why"), CASES)
def test_what_the_form_does_not_write_is_refused(harm: Callable[[Data], object], why: str) -> None:
    """Sealed with a right SHA-256, and yet of another project, of a wrong type, with unknown tables and columns."""
    data = placed()
    harm(data)
    assert why in reason(sealed(data))


@pytest.mark.parametrize(
    ("cells", "why"),
    [
        ({"comment": '=HYPERLINK("http://x.test","a")'}, "run it as a formula"),
        ({"comment": "@SUM(A1)"}, "run it as a formula"),
        ({"comment": "-2+3+cmd|' /C calc'!A0"}, "run it as a formula"),
        ({"comment": "+(1)"}, "run it as a formula"),
        ({"comment": "＝1+1"}, "run it as a formula"),
        ({"comment": "a\x1b[2Jb"}, "control character"),
        ({"comment": "a\x00b"}, "control character"),
        ({"comment": "a\ud800b"}, "half of a character"),
        ({"comment": "x" * 32_768}, "more than 32,767"),
        ({"comment": "x" * 10_001}, "at most 10,000 characters"),
        ({"sampler_id": "1.2E+05"}, "an id with all its digits"),
        ({"depth_ft": "about 3"}, "a plain decimal number"),
        ({"depth_ft": "nan"}, "a plain decimal number"),
        ({"depth_ft": "4000"}, "0 to 1,000"),
        ({"placed_at": "22.10.2025 09:12"}, "a local time as"),
        ({"placed_at": "2025-02-30T09:12"}, "a local time as"),
        ({"closure": "glue"}, "one of foil_and_soil"),
        ({"scan_file": "../../etc/passwd"}, "leads out of the project folder"),
        ({"scan_file": "/etc/passwd"}, "leads out of the project folder"),
        ({"scan_file": "C:\\secrets.txt"}, "leads out of the project folder"),
        ({"scan_file": "private/contacts.csv"}, "nothing in private/"),
    ],
)
def test_a_cell_that_may_not_stand_in_a_table_is_refused(cells: dict[str, str], why: str) -> None:
    """Formulas, characters that steer a terminal, what a column can't hold, paths that lead elsewhere."""
    assert why in reason(sealed(placed(**cells)))


@pytest.mark.parametrize(
    "file", ["../photos/a.jpg", "photos/../../a.jpg", "records/a.jpg", "photos/.htaccess", "a.jpg"]
)
def test_a_photograph_is_named_in_its_folder(file: str) -> None:
    """A photograph's name leads nowhere else."""
    assert "photos, row 1, file" in reason(sealed(record(photos=[{"file": file}])))


def test_a_changed_digit_is_noticed() -> None:
    """The SHA-256 is that of the canonical text; one other digit, in a cell or in the sum, and it is refused."""
    data = json.loads(sealed(placed()))
    data["tables"]["deployments"][0]["depth_ft"] = "4"
    assert "its SHA-256 does not match" in reason(json.dumps(data).encode())


def test_other_blanks_between_the_parts_are_the_same_export() -> None:
    """The sum is of the canonical text, so another layout of the same JSON is sound."""
    data = json.loads(sealed(placed()))
    assert read_export("a.json", json.dumps(data, indent=7).encode(), "KD-2025-01", ZONE).device == "AB12"


def test_a_refused_file_leaves_the_folder_as_it_was(tmp_path: Path) -> None:
    """Alone, nothing is written at all; beside a sound one, nothing of it is, and the run is not done."""
    folder = planned_folder(tmp_path / "project")
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    bad = tmp_path / "field-XX99-1.json"
    bad.write_bytes(sealed(record("XX99", project_row=[]) | {"project": "other"}))
    for given in ([bad], [tmp_path], [tmp_path / "absent.json"]):
        outcome = take_in(folder, given)
        assert not outcome.done
        assert outcome.lines[0].startswith(f"refused: {given[0]}: ")
        assert outcome.lines[-1] == "Nothing was written."
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before
    outcome = take_in(folder, [bad, export_file(tmp_path, deployments=[placing("0047102", "SG-01")])])
    assert not outcome.done
    assert [path.name for path in (folder / "records/field").iterdir()] == ["field-AB12-1.json"]


@pytest.mark.parametrize("name", ["..json", "a\nb.json", "CON.json.exe", "-x.json", "x" * 200 + ".json", "ä.json"])
def test_an_original_is_kept_under_a_plain_name(name: str) -> None:
    """A name that a system, a shell or a person would stumble over becomes that of the device and number."""
    export = read_export(name, sealed(placed()), "KD-2025-01", ZONE)
    assert list(copies(Folder({}, (), ()), [export])) == ["records/field/field-AB12-1.json"]


def test_a_name_that_a_browser_numbered_is_kept() -> None:
    """A second download of one name has its number in brackets; the original keeps it."""
    export = read_export("field-AB12-1 (1).json", sealed(placed()), "KD-2025-01", ZONE)
    assert list(copies(Folder({}, (), ()), [export])) == ["records/field/field-AB12-1 (1).json"]
