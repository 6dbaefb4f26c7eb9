"""The evening page: what is open, where it stands and what to do, and on how many records each "none" rests."""

from __future__ import annotations

import html
import re
import shutil
from collections.abc import Mapping
from pathlib import Path

import pytest
from builders import EXAMPLE, rows_of
from field_exports import export_file, placing, planned_folder
from typer.testing import CliRunner

from sitegen.cli import app
from sitegen.fieldwork.evening.command import make_evening
from sitegen.fieldwork.evening.page import MARK
from sitegen.fieldwork.takein.command import take_in
from sitegen.findings.problems import WrongUse

IN, OUT = "2025-10-22T11:12", "2025-11-01T10:00"


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a planned folder that is only copied."""
    return planned_folder(tmp_path_factory.mktemp("planned") / "project")


@pytest.fixture
def folder(untouched: Path, tmp_path: Path) -> Path:
    """Return a planned folder of a test's own."""
    return shutil.copytree(untouched, tmp_path / "project")


def put(folder: Path, path: str, *rows: Mapping[str, str]) -> None:
    """Append rows to a table."""
    header, _ = rows_of((folder / path).read_bytes())
    with (folder / path).open("a", encoding="utf-8") as table:
        table.writelines(",".join(row.get(name, "") for name in header) + "\n" for row in rows)


def sections(folder: Path, *, done: bool) -> dict[str, str]:
    """Return the words of the page by heading; a line of a table is one line."""
    out = folder.parent / "page.html"
    assert make_evening(folder, out).done is done
    page = out.read_text("utf-8")
    found = {}
    for part in page.split("<h2>")[1:]:
        title, _, body = part.partition("</h2>")
        body = re.sub(r"</t[dh]>|<span class=\"(?:where|do)\">", " | ", body.partition("</section>")[0])
        found[title] = html.unescape(re.sub(r"<[^>]+>", "", body))
    return found


def placed(sampler: str, point: str, at: str = IN, **more: str) -> dict[str, str]:
    """Return a placement with a depth within the plan."""
    return placing(sampler, point, at, **more)


def test_a_folder_without_field_work_gives_no_record_and_claims_nothing(folder: Path) -> None:
    """Each section that rests on nothing says so; no section says "none"."""
    found = sections(folder, done=True)
    assert "4 of 4 points" in found["Points without a sampler"]
    assert "SG-01 to SG-04 | 4 × soil gas | locations/locations.csv, rows 2 to 5" in found["Points without a sampler"]
    for section in (
        "Samplers not retrieved",
        "Exposures",
        "Return bags",
        "Photographs",
        "Conflicts between devices and tables",
    ):
        assert found[section].strip().startswith("No record"), section
    assert "None" not in "".join(found.values())


def test_the_finished_example_says_on_how_many_records_each_none_rests(tmp_path: Path) -> None:
    """56 points, 58 placements and 63 serials are the rows of the example's tables, counted by hand."""
    folder = shutil.copytree(EXAMPLE, tmp_path / "example")
    found = sections(folder, done=True)
    assert "Each of 56 points on record" in found["Points without a sampler"]
    assert "Of 58 samplers installed or opened" in found["Samplers not retrieved"]
    assert "Each of 63 serials" in found["Serial numbers not accounted for"]
    assert "Based on 4 rows of photos.csv and 4 files in photos/" in found["Photographs"]
    assert "0047105 | SG-30 | 4 d 22 h 27 min: shorter than 7 days | field/deployments.csv, row 5" in found["Exposures"]
    assert "2025-10-23 | 28 | 0 | 0 | 2 | 2 | FS-1, FS-2" in found["Days on record"]


def test_overdue_is_judged_by_the_record_and_not_by_a_clock(folder: Path) -> None:
    """Placed on 22 October for 7 to 14 days: due by 5 November. It is overdue once something later is on record."""
    put(folder, "field/deployments.csv", placed("0047102", "SG-01"))
    before = sections(folder, done=True)["Samplers not retrieved"]
    assert "0047102 | SG-01 | 2025-10-22T11:12 | 2025-10-29 to 2025-11-05 | field/deployments.csv, row 2" in before
    assert "overdue" not in before
    last = placed("0047103", "SG-02", retrieved_at="2025-11-05T08:00", condition="intact", bag_id="RB-1")
    put(folder, "field/deployments.csv", last)
    put(folder, "field/return_bags.csv", {"bag_id": "RB-1"})
    assert "overdue" not in sections(folder, done=True)["Samplers not retrieved"]
    put(folder, "field/return_bags.csv", {"bag_id": "RB-2", "sealed_at": "2025-11-06T07:00"})
    after = sections(folder, done=True)["Samplers not retrieved"]
    assert "1 of 2 samplers installed or opened, 1 overdue on 2025-11-06" in after
    assert "overdue: retrieve it" in after


def test_a_sampler_that_is_lost_is_not_waited_for(folder: Path) -> None:
    """What is recorded as not recovered is not on the list, and the sentence counts it."""
    put(folder, "field/deployments.csv", placed("0047102", "SG-01", condition="not_recovered"))
    done = sections(folder, done=True)["Samplers not retrieved"]
    assert "Of 1 sampler installed or opened, each has a retrieval" in done


def test_serials_without_a_use_and_uses_without_a_serial(folder: Path) -> None:
    """Four serials have nothing on record but their row; one that was placed is in no row."""
    put(folder, "field/deployments.csv", placed("0047102", "SG-01"), placed("0047999", "SG-02"))
    put(folder, "field/return_bags.csv", {"bag_id": "RB-1", "trip_blank_id": "0047101"})
    found = sections(folder, done=False)["Serial numbers not accounted for"]
    assert "4 of 6 serials in samplers.csv" in found
    assert "0047103 to 0047106 | 4 × sample | field/samplers.csv, rows 4 to 7" in found
    assert "stop SG-02, sampler 0047999: " in found
    assert "field/deployments.csv, row 3, column sampler_id" in found


def test_times_that_go_backwards_or_fall_at_night(folder: Path) -> None:
    """Retrieved before it was placed; placed at 01:03 while all else is by day; and how many times that rests on."""
    back = {"retrieved_at": "2025-10-21T10:00", "condition": "intact", "bag_id": "RB-1"}
    day = [placed(f"004710{at}", f"SG-0{at - 1}") for at in (3, 4)]
    put(
        folder,
        "field/deployments.csv",
        placed("0047102", "SG-01") | back,
        *day,
        placed("0047105", "SG-04", "2025-10-23T01:03"),
    )
    put(folder, "field/return_bags.csv", {"bag_id": "RB-1"})
    found = sections(folder, done=False)
    assert "stop SG-01, sampler 0047102: 2025-10-21T10:00, installed 2025-10-22T11:12" in found["Times"]
    assert "SG-04, sampler 0047105: 2025-10-23T01:03, at night" in found["Times"]
    assert "Based on 7 times" in found["Times"]
    assert "0047102 | SG-01 | -1 d 1 h 12 min: no exposure" in found["Exposures"]


@pytest.mark.parametrize(
    ("out", "said"),
    [
        ("2025-10-29T11:11", "6 d 23 h 59 min: shorter than 7 d"),
        ("2025-10-29T11:12", "None outside"),
        ("2025-11-05T10:12", "None outside"),
        ("2025-11-05T10:13", "14 d 0 h 1 min: longer than 14 d"),
        ("2025-10-22T11:12", "0 d 0 h 0 min: no exposure"),
    ],
)  # fmt: skip
def test_exposures_outside_the_plan(folder: Path, out: str, said: str) -> None:
    """7 and 14 days of 1,440 minutes hold; clocks went back an hour on 2 November (IANA, America/Chicago)."""
    row = placed("0047102", "SG-01", retrieved_at=out, condition="intact", bag_id="RB-1")
    put(folder, "field/deployments.csv", row)
    put(folder, "field/return_bags.csv", {"bag_id": "RB-1"})
    found = sections(folder, done=not out.startswith("2025-10-22"))["Exposures"]
    assert said in found
    assert "Based on 1 sampler with both times" in found


def test_bags_are_counted_against_what_they_declare(folder: Path) -> None:
    """Three in a bag that takes two and declares four, without a trip blank and without a seal."""
    settings = (folder / "project.toml").read_text("utf-8").replace("samplers_per_bag = 30", "samplers_per_bag = 2")
    (folder / "project.toml").write_text(settings, "utf-8")
    more = {"retrieved_at": OUT, "condition": "intact", "bag_id": "RB-1"}
    put(folder, "field/deployments.csv", *(placed(f"004710{at}", f"SG-0{at - 1}") | more for at in (2, 3, 4)))
    put(folder, "field/return_bags.csv", {"bag_id": "RB-1", "count_declared": "4"})
    found = sections(folder, done=True)["Return bags"]
    assert "RB-1 | 3 | 4 | no record | no record | no record | field/return_bags.csv, row 2" in found
    for words in ("4 declared | ", "3 samplers | ", "no trip blank on record", "no seal number on record"):
        assert f"bag RB-1: {words}" in found, words


def test_photographs_that_are_named_and_missing(folder: Path) -> None:
    """One is listed and not there, one is there and not listed."""
    put(folder, "field/photos.csv", {"file": "photos/a.png", "location_id": "SG-01"})
    (folder / "photos").mkdir()
    shutil.copy(EXAMPLE / "photos/sg-35.png", folder / "photos/b.png")
    found = sections(folder, done=True)["Photographs"]
    assert "field/photos.csv, row 2, column file" in found
    assert "photos/b.png" in found
    assert "Based on 1 row of photos.csv and 1 file in photos/" in found


def test_counts_of_shipments(folder: Path) -> None:
    """The example's outward shipment declares 63 items; the cut-down table sends six in it."""
    found = sections(folder, done=True)["Shipments"]
    assert "SH-O1 | out | 2025-10-20T15:12 | 63 | 63 | field/shipments.csv, row 2" in found
    assert "shipment SH-O1: 63 items declared" in found


def test_conflicts_are_listed_until_they_are_decided(folder: Path, tmp_path: Path) -> None:
    """A device and the folder differ: it is listed with both texts until the table changes."""
    put(folder, "field/deployments.csv", placed("0047102", "SG-01", moved_ft="1"))
    take_in(folder, [export_file(tmp_path, deployments=[placing("0047102", "SG-01", IN, moved_ft="2")])])
    title = "Conflicts between devices and tables"
    assert (
        "deployments, 0047102, moved_ft | AB12: 2 | 1 | records/field/conflicts.csv, row 2"
        in sections(folder, done=True)[title]
    )
    table = folder / "field/deployments.csv"
    table.write_text(table.read_text("utf-8").replace(",1,,", ",2,,", 1), "utf-8")
    assert "Each of 1 difference listed" in sections(folder, done=True)[title]
    (folder / "records/field/conflicts.csv").write_text("table;key\n", "utf-8")
    assert "The list of conflicts cannot be read" in sections(folder, done=True)[title]


def test_a_conflict_is_open_whatever_sign_its_serial_begins_with(folder: Path, tmp_path: Path) -> None:
    """The list keeps -7 from being run as a formula; the conflict on its row is found all the same."""
    put(folder, "field/deployments.csv", placed("-7", "SG-01", moved_ft="1"))
    take_in(folder, [export_file(tmp_path, deployments=[placing("-7", "SG-01", IN, moved_ft="2")])])
    title = "Conflicts between devices and tables"
    assert "deployments, '-7, moved_ft | AB12: 2 | 1" in sections(folder, done=False)[title]


def test_exports_without_a_conflict_are_counted(folder: Path, tmp_path: Path) -> None:
    """One export that agreed: none on record among one export."""
    take_in(folder, [export_file(tmp_path, deployments=[placing("0047102", "SG-01", IN)])])
    found = sections(folder, done=True)["Conflicts between devices and tables"]
    assert "None on record among 1 export of the field form" in found


def test_a_folder_with_stops_has_its_page_and_says_what_did_not_run(folder: Path) -> None:
    """A stop of no section is listed first; sections without a finding do not claim that all was checked."""
    put(folder, "field/deployments.csv", placed("0047102", "SG-01", depth_ft="three"))
    found = sections(folder, done=False)
    assert "stop SG-01, sampler 0047102: 'three'" in found["1 finding to correct first"]
    assert "Not every check was run: findings of severity stop come first." in found["Times"]


def test_settings_that_can_not_be_read_leave_the_stops_alone(folder: Path) -> None:
    """Without settings there is no survey: the page lists what to mend, with lines to sign."""
    (folder / "project.toml").write_text("[project\n", "utf-8")
    found = sections(folder, done=False)
    assert list(found)[-1] == "Reconciliation"
    assert "project.toml" in next(iter(found.values()))
    assert "Days on record" not in found


def test_the_page_is_the_same_bytes_and_runs_nothing(folder: Path, tmp_path: Path) -> None:
    """Another place and name of the folder give the same page; it has no script and loads nothing."""
    put(folder, "field/deployments.csv", placed("0047102", "SG-01", comment="x"))
    make_evening(folder, tmp_path / "one.html")
    make_evening(shutil.copytree(folder, tmp_path / "elsewhere/other"), tmp_path / "two.html")
    page = (tmp_path / "one.html").read_bytes()
    assert page == (tmp_path / "two.html").read_bytes()
    assert "default-src 'none'" in html.unescape(page.decode())
    assert not re.search(rb"<script|<img|<link|src=|href=|http:|https:", page)


def test_hostile_words_are_words(folder: Path) -> None:
    """Text of the record is escaped on the page, and what steers a terminal is not on it."""
    words = "<script>alert(1)</script>"
    put(folder, "field/return_bags.csv", {"bag_id": words, "seal_applied": "'\"><b>\u202e"})
    put(folder, "field/deployments.csv", placed("0047102", "<i>SG"))
    out = folder.parent / "page.html"
    make_evening(folder, out)
    page = out.read_text("utf-8")
    assert html.escape(words, quote=False) in page
    assert not re.search(r"<script|<i>|<b>|\u202e", page)


def test_the_page_is_written_where_it_harms_nothing(folder: Path, tmp_path: Path) -> None:
    """Beside the folder by default and over an older page; never into the record or over a file of others."""
    assert make_evening(folder, None).lines[0] == f"written: {tmp_path / 'project-evening.html'}"
    assert make_evening(folder, None).done
    other = tmp_path / "notes.html"
    other.write_text("notes", "utf-8")
    for place in (other, folder / "evening.html", folder / "records/evening.html"):
        with pytest.raises(WrongUse, match="state another"):
            make_evening(folder, place)
    assert other.read_text("utf-8") == "notes"
    assert MARK in (tmp_path / "project-evening.html").read_text("utf-8")


def test_the_commands_say_what_they_did_and_end_with_1_where_something_is_left(folder: Path, tmp_path: Path) -> None:
    """A sound export ends with 0, a refused one with 1 and its reason; so does a page of a folder with stops."""
    run = CliRunner()
    export = export_file(tmp_path, deployments=[placing("0047102", "SG-01", IN)])
    taken = run.invoke(app, ["take-in", str(folder), str(export)])
    assert (taken.exit_code, taken.output.splitlines()[-1]) == (0, "check: no finding stops a build")
    export.write_bytes(export.read_bytes()[:-20])
    refused = run.invoke(app, ["take-in", str(folder), str(export)])
    assert refused.exit_code == 1
    assert "it is no JSON" in refused.output
    page = ["evening", str(folder), "--out", str(tmp_path / "page.html")]
    assert run.invoke(app, page).exit_code == 0
    put(folder, "field/deployments.csv", placed("0047102", "SG-02"))
    assert run.invoke(app, page).exit_code == 1
