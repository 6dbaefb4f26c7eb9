"""Exports merged with a folder's tables: by key, in any order, twice as once, and nothing written over."""

from __future__ import annotations

import shutil
from itertools import permutations
from pathlib import Path

import pytest
from builders import rows_of
from field_exports import change, export_file, placing, planned_folder

from sitegen.fieldwork.takein.command import take_in
from sitegen.fieldwork.takein.decisions import FILE
from sitegen.findings.outcomes import Outcome

PLACED = "field/deployments.csv"


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a planned folder that is only copied."""
    return planned_folder(tmp_path_factory.mktemp("planned") / "project")


@pytest.fixture
def folder(untouched: Path, tmp_path: Path) -> Path:
    """Return a planned folder of a test's own."""
    return shutil.copytree(untouched, tmp_path / "project")


@pytest.fixture(autouse=True)
def unchecked(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the check of the folder out: the round trip tries it."""
    monkeypatch.setattr("sitegen.fieldwork.takein.command.check", lambda *_: None)
    monkeypatch.setattr("sitegen.fieldwork.takein.command.check_line", lambda _: "checked")


def rows(folder: Path, path: str = PLACED) -> dict[str, dict[str, str]]:
    """Return the filled cells of a table's rows by the first column, the key."""
    header, found = rows_of((folder / path).read_bytes())
    return {row[header[0]]: {name: text for name, text in row.items() if text} for row in found}


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder, hidden ones too."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def lines(outcome: Outcome, word: str) -> list[str]:
    """Return what was told that begins with a word."""
    return [line for line in outcome.lines if line.startswith(word)]


def typed(folder: Path, old: str, new: str, path: str = PLACED) -> None:
    """Do what a person does who types something else into a table."""
    text = (folder / path).read_text("utf-8")
    assert text.count(old) == 1
    (folder / path).write_text(text.replace(old, new), "utf-8")


def test_rows_are_added_in_the_order_of_their_times_and_the_original_is_kept(folder: Path, tmp_path: Path) -> None:
    """Two placings become two rows of the table, with what the device wrote and nothing else."""
    late, early = placing("0047102", "SG-01", "2025-10-22T11:00"), placing("0047103", "SG-02", comment='say "x", y')
    export = export_file(tmp_path, deployments=[late, early])
    outcome = take_in(folder, [export])
    assert outcome.done
    assert list(rows(folder).values()) == [early, late]
    assert "field/deployments.csv: 2 rows added" in outcome.lines
    assert (folder / "records/field/field-AB12-1.json").read_bytes() == export.read_bytes()


def test_what_a_device_has_from_its_kit_is_no_word_of_its_own(folder: Path, tmp_path: Path) -> None:
    """The office took a bag back and corrected a depth since: the device, which wrote neither, brings back neither."""
    take_in(folder, [export_file(tmp_path, deployments=[placing("0047102", "SG-01", depth_ft="4")])])
    of_the_kit = placing("0047102", "SG-01", bag_id="RB-1", depth_ft="3", retrieved_at="2025-11-05T09:00")
    made = change("0047102", "retrieved_at", "", "2025-11-05T09:00")
    outcome = take_in(folder, [export_file(tmp_path, device="CD34", changes=[made], deployments=[of_the_kit])])
    assert outcome.done
    wanted = placing("0047102", "SG-01", depth_ft="4", retrieved_at="2025-11-05T09:00")
    assert rows(folder) == {"0047102": wanted}


def test_a_row_that_the_folder_lacks_is_added_whole(folder: Path, tmp_path: Path) -> None:
    """It was deleted since, or the kit's folder was another: what the device has of it is all that there is."""
    row = placing("0047102", "SG-01", retrieved_at="2025-11-05T09:00")
    made = change("0047102", "retrieved_at", "", "2025-11-05T09:00")
    take_in(folder, [export_file(tmp_path, changes=[made], deployments=[row])])
    assert rows(folder) == {"0047102": row}


def test_blank_cells_are_filled_and_others_stay(folder: Path, tmp_path: Path) -> None:
    """The kind that samplers.csv has agrees, the outcome it lacks is filled, the rest of the file is as it was."""
    before = (folder / "field/samplers.csv").read_bytes()
    export = export_file(tmp_path, samplers=[{"sampler_id": "0047104", "kind": "sample", "outcome": "lost"}])
    outcome = take_in(folder, [export])
    assert outcome.done
    assert "field/samplers.csv: 1 cell filled" in outcome.lines
    old = b"0047104,,sample,T1,0925-B,2025-10-17,SH-O1,,"
    assert (folder / "field/samplers.csv").read_bytes() == before.replace(old, old[:-1] + b"lost,")


def test_a_second_run_changes_nothing(folder: Path, tmp_path: Path) -> None:
    """Neither the tables nor the kept originals nor the list of conflicts change, whatever is told."""
    exports = [
        export_file(tmp_path, "AB12", deployments=[placing("0047102", "SG-01")]),
        export_file(tmp_path, "CD34", deployments=[placing("0047102", "SG-02")]),
    ]
    assert not take_in(folder, exports).done
    after = contents(folder)
    assert not take_in(folder, exports).done
    assert not take_in(folder, exports[1:]).done
    assert contents(folder) == after


def test_the_order_of_exports_does_not_matter(untouched: Path, tmp_path: Path) -> None:
    """Three exports of two devices, a correction and a conflict among them, give the same folder in every order."""
    corrected = [change("0047102", "depth_ft", "3", "3.2", "typed wrong")]
    first, second = placing("0047102", "SG-01"), placing("0047102", "SG-01", depth_ft="3.2")
    exports = [
        export_file(tmp_path, "AB12", 1, deployments=[first]),
        export_file(tmp_path, "AB12", 2, corrected, deployments=[second, placing("0047103", "SG-02")]),
        export_file(tmp_path, "CD34", 1, deployments=[placing("0047103", "SG-03"), placing("0047104", "SG-04")]),
    ]
    results = []
    for number, order in enumerate(permutations(exports)):
        folder = shutil.copytree(untouched, tmp_path / f"order-{number}")
        outcome = take_in(folder, order)
        results.append((contents(folder), outcome))
    assert all(result == results[0] for result in results)
    assert rows(folder)["0047102"]["depth_ft"] == "3.2"
    assert "location_id" not in rows(folder)["0047103"]


def test_two_devices_that_differ_leave_the_cell_blank_and_are_told(folder: Path, tmp_path: Path) -> None:
    """Table, key, column, both texts and devices are told; what agrees is merged."""
    exports = [
        export_file(tmp_path, "AB12", deployments=[placing("0047102", "SG-01")]),
        export_file(tmp_path, "CD34", deployments=[placing("0047102", "SG-02")]),
    ]
    outcome = take_in(folder, exports)
    assert not outcome.done
    assert lines(outcome, "conflict") == [
        (
            "conflict: deployments, 0047102, location_id (field/deployments.csv, new row): the table has nothing; "
            "device AB12 has 'SG-01'; device CD34 has 'SG-02'"
        )
    ]
    assert rows(folder)["0047102"] == {name: text for name, text in placing("0047102", "").items() if text}


def test_a_cell_that_a_person_filled_is_never_written_over(folder: Path, tmp_path: Path) -> None:
    """The folder's own text stays, and the device's is told beside it."""
    typed(folder, "0047104,,sample", "0047104,own,sample", "field/samplers.csv")
    outcome = take_in(folder, [export_file(tmp_path, samplers=[{"sampler_id": "0047104", "label": "L-4"}])])
    assert not outcome.done
    assert "the table has 'own'; device AB12 has 'L-4'" in lines(outcome, "conflict")[0]
    assert rows(folder, "field/samplers.csv")["0047104"]["label"] == "own"


@pytest.mark.parametrize("together", [True, False])
def test_a_newer_export_replaces_what_its_device_corrected(folder: Path, tmp_path: Path, *, together: bool) -> None:
    """Taken in with the older one or after it, the corrected text is there, and the reason is told if it updates."""
    older = export_file(tmp_path, "AB12", 1, deployments=[placing("0047102", "SG-01")])
    steps = [
        change("0047102", "location_id", "SG-01", "SG-03", "wrong stake"),
        change("0047102", "location_id", "SG-03", "SG-02", "read again"),
    ]
    newer = export_file(tmp_path, "AB12", 2, steps, deployments=[placing("0047102", "SG-02")])
    outcomes = [take_in(folder, [newer, older])] if together else [take_in(folder, [older]), take_in(folder, [newer])]
    assert all(outcome.done for outcome in outcomes)
    assert rows(folder)["0047102"]["location_id"] == "SG-02"
    if not together:
        assert lines(outcomes[1], "updated") == [
            (
                "updated: deployments, 0047102, location_id (field/deployments.csv, row 2): device AB12 corrected "
                "'SG-01' to 'SG-02' (reason: wrong stake; read again)"
            )
        ]
    assert take_in(folder, [older]).done


def test_a_newer_export_without_a_change_on_record_is_a_conflict(folder: Path, tmp_path: Path) -> None:
    """A device that says two things and does not say that it changed the one contradicts itself."""
    older = export_file(tmp_path, "AB12", 1, deployments=[placing("0047102", "SG-01")])
    other = [change("0047102", "location_id", "SG-04", "SG-02", "from another text")]
    newer = export_file(tmp_path, "AB12", 2, other, deployments=[placing("0047102", "SG-02")])
    outcome = take_in(folder, [older, newer])
    assert "device AB12 has 'SG-01'; device AB12 has 'SG-02'" in lines(outcome, "conflict")[0]
    assert "location_id" not in rows(folder)["0047102"]


def test_a_correction_against_a_text_of_other_origin_is_a_conflict(folder: Path, tmp_path: Path) -> None:
    """The folder has the text that the device replaced, but no kept export shows that it came from the device."""
    typed(folder, "0047104,,sample", "0047104,L-3,sample", "field/samplers.csv")
    older = export_file(tmp_path, "AB12", 1, samplers=[{"sampler_id": "0047104", "label": "L-3"}])
    steps = [change("0047104", "label", "L-3", "L-4", "misread", "samplers")]
    newer = export_file(tmp_path, "AB12", 2, steps, samplers=[{"sampler_id": "0047104", "label": "L-4"}])
    assert not take_in(folder, [older, newer]).done
    assert rows(folder, "field/samplers.csv")["0047104"]["label"] == "L-3"


def test_a_text_that_another_device_wrote_is_not_updated(folder: Path, tmp_path: Path) -> None:
    """Two devices wrote the same; one corrects it, the other does not: a person decides."""
    row = placing("0047102", "SG-01")
    both = [export_file(tmp_path, "AB12", 1, deployments=[row]), export_file(tmp_path, "CD34", 1, deployments=[row])]
    assert take_in(folder, both).done
    steps = [change("0047102", "depth_ft", "3", "2.5", "measured again")]
    outcome = take_in(folder, [export_file(tmp_path, "AB12", 2, steps, deployments=[row | {"depth_ft": "2.5"}])])
    assert not outcome.done
    assert rows(folder)["0047102"]["depth_ft"] == "3"


def test_a_text_that_a_device_took_back_is_taken_back(folder: Path, tmp_path: Path) -> None:
    """A cell that the device cleared, with a reason, is cleared where the device's own text is in it."""
    row = placing("0047102", "SG-01", moved_ft="2")
    assert take_in(folder, [export_file(tmp_path, "AB12", 1, deployments=[row])]).done
    steps = [change("0047102", "moved_ft", "2", "", "not moved")]
    outcome = take_in(folder, [export_file(tmp_path, "AB12", 2, steps, deployments=[placing("0047102", "SG-01")])])
    assert outcome.done
    assert "(reason: not moved)" in lines(outcome, "updated")[0]
    assert "moved_ft" not in rows(folder)["0047102"]


def test_a_row_that_a_device_took_back_is_not_added_and_not_deleted(folder: Path, tmp_path: Path) -> None:
    """Together with the export that has it, the row is not added; after it, a person deletes it."""
    row = placing("0047102", "SG-01")
    older = export_file(tmp_path, "AB12", 1, deployments=[row])
    steps = [change("0047102", name, text, "", "wrong stake") for name, text in reversed(row.items())]
    newer = export_file(tmp_path, "AB12", 2, steps, deployments=[placing("0047103", "SG-01")])
    other = shutil.copytree(folder, tmp_path / "other")
    assert take_in(other, [newer, older]).done
    assert list(rows(other)) == ["0047103"]
    assert take_in(folder, [older]).done
    outcome = take_in(folder, [newer])
    assert lines(outcome, "conflict") == [
        (
            "conflict: deployments, 0047102, sampler_id (field/deployments.csv, row 2): the table has '0047102'; "
            "device AB12 withdrew the row (reason: wrong stake); delete it from the table if that is correct"
        )
    ]
    assert rows(folder)["0047102"] == row
    typed(
        folder, next(line for line in (folder / PLACED).read_text("utf-8").splitlines() if "0047102" in line) + "\n", ""
    )
    assert take_in(folder, [newer]).done
    assert list(rows(folder)) == ["0047103"]


def test_a_point_that_was_not_done_is_noted(folder: Path, tmp_path: Path) -> None:
    """The status and the reason go into the point's row, and nothing else of it changes."""
    said = {"location_id": "SG-04", "status": "not_done", "comment": "drain below"}
    outcome = take_in(folder, [export_file(tmp_path, locations=[said])])
    assert outcome.done
    row = rows(folder, "locations/locations.csv")["SG-04"]
    assert (row["status"], row["comment"]) == ("not_done", "drain below")


def test_a_conflict_is_open_until_a_person_decides_it(folder: Path, tmp_path: Path) -> None:
    """Running it again decides nothing; typing a text into the table does, whichever it is."""
    exports = [
        export_file(tmp_path, "AB12", deployments=[placing("0047102", "SG-01")]),
        export_file(tmp_path, "CD34", deployments=[placing("0047102", "SG-02")]),
    ]
    assert take_in(folder, exports[:1]).done
    assert not take_in(folder, exports[1:]).done
    assert not take_in(folder, exports[1:]).done
    typed(folder, "0047102,SG-01", "0047102,SG-02")
    outcome = take_in(folder, exports)
    assert outcome.done
    assert lines(outcome, "decided") == [
        (
            "decided: deployments, 0047102, location_id (field/deployments.csv, row 2): the table has 'SG-02'; "
            "device AB12 has 'SG-01'; device CD34 has 'SG-02'"
        )
    ]


def test_a_list_of_conflicts_that_is_lost_decides_nothing(folder: Path, tmp_path: Path) -> None:
    """Somebody removes the list while a cell is blank: the devices still differ, and it is told again."""
    exports = [
        export_file(tmp_path, "AB12", deployments=[placing("0047102", "SG-01")]),
        export_file(tmp_path, "CD34", deployments=[placing("0047102", "SG-02")]),
    ]
    take_in(folder, exports)
    (folder / FILE).unlink()
    assert not take_in(folder, exports).done
    assert (folder / FILE).read_bytes().count(b"location_id") == 2


def test_a_role_code_decides_for_the_table_as_it_is(folder: Path, tmp_path: Path) -> None:
    """Where the table is right, the list of conflicts is signed; a third device's other text opens it again."""
    first = export_file(tmp_path, "AB12", deployments=[placing("0047102", "SG-01")])
    second = export_file(tmp_path, "CD34", deployments=[placing("0047102", "SG-02")])
    take_in(folder, [first])
    take_in(folder, [second])
    typed(folder, "CD34,SG-02,SG-01,,", "CD34,SG-02,SG-01,PM-1,seen on the stake", FILE)
    assert take_in(folder, [first, second]).done
    signed = (folder / FILE).read_bytes()
    third = export_file(tmp_path, "EF56", deployments=[placing("0047102", "SG-04")])
    assert not take_in(folder, [third]).done
    assert (folder / FILE).read_bytes() == signed + b"deployments,0047102,location_id,EF56,SG-04,SG-01,,\r\n"


def test_what_a_person_corrects_after_a_take_in_stays_corrected(folder: Path, tmp_path: Path) -> None:
    """The office changes a text that was taken in: later exports of the device do not open it again."""
    row = placing("0047102", "SG-01")
    assert take_in(folder, [export_file(tmp_path, "AB12", 1, deployments=[row])]).done
    typed(folder, "0047102,SG-01", "0047102,SG-02")
    outcome = take_in(folder, [export_file(tmp_path, "AB12", 2, deployments=[row, placing("0047103", "SG-03")])])
    assert outcome.done
    assert "the table has 'SG-02'; device AB12 has 'SG-01'" in lines(outcome, "decided")[0]
    assert rows(folder)["0047102"]["location_id"] == "SG-02"


@pytest.mark.parametrize(
    ("column", "folder_text", "device_text"),
    [("depth_ft", "3.0", "3"), ("placed_at", "2025-10-22T09:12-05:00", "2025-10-22T09:12"), ("comment", "a ", "a")],
)
def test_two_ways_to_write_the_same_are_no_conflict(
    folder: Path, tmp_path: Path, column: str, folder_text: str, device_text: str
) -> None:
    """3.0 and 3, a time with and without its offset (ISO 8601), a blank at the end."""
    header = (folder / PLACED).read_text("utf-8").strip()
    cells = placing("0047102", "SG-01") | {column: folder_text}
    (folder / PLACED).write_text(f"{header}\n{','.join(cells.get(name, '') for name in header.split(','))}\n", "utf-8")
    export = export_file(tmp_path, deployments=[placing("0047102", "SG-01") | {column: device_text}])
    outcome = take_in(folder, [export])
    assert outcome.done
    assert "field/deployments.csv: nothing new" in outcome.lines


def test_a_time_is_written_in_the_zone_of_its_row(folder: Path, tmp_path: Path) -> None:
    """09:12 in Chicago is 08:12 in Denver (IANA zone data: an hour apart on that day)."""
    header = (folder / PLACED).read_text("utf-8").strip()
    cells = {"sampler_id": "0047102", "location_id": "SG-01", "tz": "America/Denver"}
    (folder / PLACED).write_text(f"{header}\n{','.join(cells.get(name, '') for name in header.split(','))}\n", "utf-8")
    assert take_in(folder, [export_file(tmp_path, deployments=[placing("0047102", "SG-01")])]).done
    assert rows(folder)["0047102"]["placed_at"] == "2025-10-22T08:12"


def test_one_name_with_other_bytes_gets_a_number(folder: Path, tmp_path: Path) -> None:
    """Both originals are kept; the same bytes are kept once."""
    places = [tmp_path / "a", tmp_path / "b", tmp_path / "c"]
    for place in places:
        place.mkdir()
    take_in(folder, [export_file(places[0], deployments=[placing("0047102", "SG-01")])])
    take_in(folder, [export_file(places[1], deployments=[placing("0047103", "SG-02")])])
    take_in(folder, [export_file(places[2], deployments=[placing("0047103", "SG-02")])])
    names = sorted(path.name for path in (folder / "records/field").iterdir())
    assert names == ["field-AB12-1-2.json", "field-AB12-1.json"]


def test_a_serial_of_a_range_gets_a_row_like_its_range(folder: Path, tmp_path: Path) -> None:
    """With [derive] serial_ranges the folder has one row for many: the one with an outcome gets its own, once."""
    with (folder / "project.toml").open("a", encoding="utf-8") as settings:
        settings.write("\n[derive]\nserial_ranges = true\n")
    head = "sampler_id,kind,lot\n"
    (folder / "field/samplers.csv").write_text(f"{head}0047101-0047109,sample,0925-B\n", "utf-8")
    row = {"sampler_id": "0047104", "kind": "sample", "outcome": "lost"}
    export = export_file(tmp_path, samplers=[row, {"sampler_id": "0047105", "kind": "sample"}])
    assert take_in(folder, [export]).done
    assert take_in(folder, [export]).done
    expected = "sampler_id,kind,lot,outcome\n0047101-0047109,sample,0925-B,\n0047104,sample,0925-B,lost\n"
    assert (folder / "field/samplers.csv").read_text("utf-8") == expected
