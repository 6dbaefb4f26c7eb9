"""Whole reports over several rounds: what leaves the house, what an archive proves, and where each number leads."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from builders import EXAMPLE, cell, changed, example, setting, table, write
from hand_rounds import FILES, folder, texts_with
from pypdf import PdfReader
from rounds_survey import IDS, LATER, MISSING, again, read, second_alone, two_rounds
from rounds_survey import table as csv_of
from survey_in_feet import SOUTH_DAKOTA_FT, feet
from test_publish import texts_of

from sitegen.archive.make import archive
from sitegen.archive.verify import verify
from sitegen.checking import check_snapshot
from sitegen.findings.problems import OutputFault
from sitegen.pipeline import Built, build, compose
from sitegen.project.folder import Folder, InputFile
from sitegen.report.record.pages import PrintedValue, Ref, Report

REMARK = "Cover stone of the first round put back by hand, east of the gate post."
EVENT = "Seal of the first round read twice by the driver at the depot."
ROLE = re.compile(r"(?<![\w-])(?:FS-[12]|PM-1|LR-1|LB-1)(?![\w-])")
POINT = re.compile(r"(?<![^\W_])(?:SG|SS|IA|OA)-\d\d(?![^\W_])")
READ_AS_TEXT = (".html", ".csv", ".json", ".geojson", ".pdf", ".xlsx", ".docx", ".gpkg", ".js")
LEVELS = {
    "internal": 'level = "internal"\nwithhold = []',
    "client": 'level = "client"\nwithhold = ["field_comments", "role_codes"]',
    "public": 'level = "public"\nwithhold = []',
}


def label(location_id: str) -> str:
    """Return a public label that holds nothing of the id."""
    digits = str.maketrans("0123456789", "ghijklmnop")
    return f"Place {hashlib.sha256(location_id.encode()).hexdigest()[:6].translate(digits)}"


def planted(base: Folder, level: str = "internal") -> Folder:
    """Return a folder with a remark on a placement and on a hand-over, a public label for each point, and a level."""
    return changed(
        cell("field/deployments.csv", "0047102", "comment", REMARK),
        cell("field/custody.csv", "E-0001", "comment", EVENT),
        table("locations/locations.csv", lambda rows: [r | {"public_label": label(r["location_id"])} for r in rows]),
        setting('level = "internal"                      # internal, client or public\nwithhold = []', LEVELS[level]),
        folder=base,
    )


def require_inside(made: Built, level: str) -> None:
    """Hold every file of an output to what its level shows."""
    seen = {path.suffix for path in made.out.rglob("*") if path.is_file()}
    assert {".html", ".csv", ".pdf", ".xlsx", ".gpkg"} <= seen
    for path in (path for path in made.out.rglob("*") if path.is_file()):
        for said in texts_of(path):
            assert level == "internal" or not [words for words in (REMARK, EVENT) if words in said], path
            if level != "internal" and path.suffix in READ_AS_TEXT:
                assert not ROLE.search(said), (path, ROLE.search(said))
            if level == "public" and path.suffix in READ_AS_TEXT:
                assert not POINT.search(said), (path, POINT.search(said))


@pytest.mark.long
@pytest.mark.parametrize("level", LEVELS)
def test_two_rounds_and_a_supplement_are_built_at_every_level(level: str, tmp_path: Path) -> None:
    """No broken link (a build holds that), and nothing of the first round that the level withholds."""
    made = build(write(planted(two_rounds(), level), tmp_path / "survey"), tmp_path / "out")
    require_inside(made, level)
    page = (made.out / "site/round-1.html").read_text("utf-8")
    assert (label(MISSING) in page) is (level == "public")


@pytest.mark.long
@pytest.mark.parametrize("level", ["client", "public"])
def test_a_survey_beside_the_folder_tells_no_more_than_this_one(level: str, tmp_path: Path) -> None:
    """The first survey is for the house alone; what is taken of it into the second's report is not."""
    write(planted(example()), tmp_path / "first")
    second = changed(
        table("locations/locations.csv", lambda rows: [r | {"public_label": label(r["location_id"])} for r in rows]),
        setting('level = "internal"                      # internal, client or public\nwithhold = []', LEVELS[level]),
        folder=second_alone(),
    )
    made = build(write(second, tmp_path / "second"), tmp_path / "out")
    require_inside(made, level)
    held = next(one for one in made.report.exports if one.name == "custody_events")
    comments = {row[held.at("comment")] for row in held.rows if row[held.at("source_file")].startswith("earlier/")}
    assert len(comments - {""}) == 1  # the word that stands for each remark


@pytest.mark.long
def test_an_archive_of_a_second_survey_needs_no_first(tmp_path: Path) -> None:
    """Archived, the first folder taken away: the archive holds, is rebuilt to the same bytes, and gives the digest."""
    shutil.copytree(EXAMPLE, tmp_path / "first")
    second = write(second_alone(), tmp_path / "second")
    made = archive(second, tmp_path / "archives", zipped=True)
    shutil.rmtree(tmp_path / "first")
    verdict = verify(made.bag)
    assert verdict.holds, (verdict.faults, verdict.differences)
    assert verdict.rebuilt is not None
    assert verdict.rebuilt > 100


def digests(out: Path) -> dict[str, str]:
    """Return the SHA-256 of each file of an output."""
    files = (path for path in sorted(out.rglob("*")) if path.is_file())
    return {str(path.relative_to(out)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


@pytest.mark.long
def test_a_second_survey_gives_the_same_bytes_elsewhere(tmp_path: Path) -> None:
    """Another folder, hash seed, zone and locale change no byte of a report that holds two surveys."""
    for place, seed, more in (("one", "1", {}), ("a deeper/other place", "77", {"TZ": "Asia/Tokyo", "LC_ALL": "C"})):
        root = tmp_path / place
        shutil.copytree(EXAMPLE, root / "first")
        write(second_alone(), root / "second")
        command = [sys.executable, "-m", "sitegen", "build", str(root / "second"), "--out", str(root / "out")]
        env = os.environ | {"PYTHONHASHSEED": seed} | more
        subprocess.run(command, check=True, capture_output=True, cwd=tmp_path, env=env)
    one, other = (digests(tmp_path / place / "out") for place in ("one", "a deeper/other place"))
    assert one == other
    assert len(one) > 200


@cache
def colliding() -> Report:
    """Return the report of the example 364 days later, every id the same, beside the example surveyed in feet."""
    base = example()
    files = dict(base.files)
    for path in IDS:
        content = csv_of(again(path, read(base, path), "", LATER))
        files[path] = InputFile(path, hashlib.sha256(content).hexdigest(), content)
    own = changed(
        setting("report_date = 2025-12-12", 'report_date = 2026-12-11\nearlier = ["../first"]'),
        setting('id = "KD-2025-01"', 'id = "KD-2026-01"'),
        table("lab/results.csv", lambda rows: [row | _doubled(row) for row in rows]),
        folder=Folder(dict(sorted(files.items())), (), ()),
    )
    first = changed(*feet("us_survey", "EPSG:32613"))
    left = ("private/", "photos/", "records/", "theme/", "review/", "text/")
    both = dict(own.files)
    for path, file in first.files.items():
        if not path.startswith(left):
            both[f"earlier/first/{path}"] = InputFile(f"earlier/first/{path}", file.sha256, file.content)
    return compose(check_snapshot(Folder(dict(sorted(both.items())), (), ())))[1]


def _doubled(row: dict[str, str]) -> dict[str, str]:
    if row["detected"] != "yes" or not row["value"]:
        return {}
    return dict.fromkeys(("value", "result_text"), f"{2 * float(row['value']):.10g}")


def of_earlier(one: PrintedValue) -> bool:
    """Tell whether a number is one of the earlier round's alone: on its page, or in a column of its own."""
    return one.page == Ref("page", "round-1") or one.column in ("before", "rl_before", "earlier")


def behind(one: PrintedValue) -> Iterator[str]:
    """Yield the files behind a number."""
    if one.origin:
        yield one.origin[0]
    else:
        yield from (source.file for source in one.sources)


@pytest.mark.long
def test_a_number_of_an_earlier_survey_never_leads_to_a_row_of_this_one() -> None:
    """Every id is in both surveys: what one row gave leads to the file of its own survey, with the value in it."""
    made = colliding()
    lines = {mount: _results(mount) for mount in ("", "earlier/first/")}
    earlier = [one for one in made.values if of_earlier(one) and one.origin]
    assert len(earlier) > 300
    assert {one.origin[0].startswith("earlier/first/") for one in earlier if one.origin} == {True}
    for one in made.values:
        if one.origin and one.column in ("before", "after") and one.origin[0].endswith("lab/results.csv"):
            mount = "earlier/first/" if one.column == "before" else ""
            assert one.origin[0] == f"{mount}lab/results.csv", one
            said = lines[mount][one.origin[1] - 2]["result_text"]
            assert one.text.split()[0].replace("rejected", said).strip("()<") in (said.strip("<"), *_limits(lines, one))
    for one in made.values:
        pages_of_rounds = one.page.id.startswith(("round", "rounds")) or one.page.kind != "page"
        if not pages_of_rounds and one.origin:
            assert not one.origin[0].startswith("earlier/"), one


def _results(mount: str) -> list[dict[str, str]]:
    rows = read(example(), "lab/results.csv")
    return rows if mount else [row | _doubled(row) for row in rows]


def _limits(lines: dict[str, list[dict[str, str]]], one: PrintedValue) -> tuple[str, ...]:
    """Return the limits of the row that a number leads to: what a non-detect is printed as."""
    assert one.origin
    row = lines["earlier/first/" if one.origin[0].startswith("earlier/") else ""][one.origin[1] - 2]
    return (row["rl"], row["mdl"])


@pytest.mark.long
def test_points_in_feet_and_in_metres_are_the_same_points() -> None:
    """No point moved: each lies within a centimetre of where the earlier survey, in feet, has it."""
    made = colliding()
    held = next(one for one in made.exports if one.name == "locations")
    at = [held.at(name) for name in ("round", "location_id", "x", "y", "crs", "surveyed_crs")]
    rows = [tuple(row[number] for number in at) for row in held.rows]
    places: dict[str, list[tuple[float, float]]] = {}
    for round_id, location_id, x, y, crs, surveyed in rows:
        assert surveyed in ("", SOUTH_DAKOTA_FT if round_id == "KD-2025-01" else "EPSG:32614")
        if x is not None:
            assert crs == "EPSG:32614"
            places.setdefault(location_id, []).append((x, y))
    assert len(places) > 50
    for found in places.values():
        assert len(found) == 2
        assert max(abs(a - b) for a, b in zip(*found, strict=True)) < 0.01


def one_round_of(points: str, project: str) -> dict[str, str]:
    """Return the files of the small survey with its first round alone, at some of its points."""
    files = dict(FILES)
    settings = files["project.toml"].replace('id = "TR-1"', f'id = "{project}"').replace("2026-01-15", "2025-07-01")
    files["project.toml"] = settings[: settings.index("[[rounds]]")] + settings[settings.index("[signoff]") :]
    rows = [line.split(",") for line in files["field/deployments.csv"].splitlines()]
    gone = {row[0] for row in rows[1:] if row[3] != "R1" or row[1] not in points.split()}
    gone |= {"207", *(f"L-{name}" for name in gone), "L-207", "RB-2", "RB-3", "E-3", "E-4"}
    places = {"A", "B", "C", "D", "E1", "E2", "G"} - set(points.split())
    for path, content in files.items():
        kept = [line for line in content.splitlines() if line.split(",")[0] not in gone | places]
        if path.endswith(".csv"):
            files[path] = "\n".join(kept).replace(",R1", ",").replace(",6\n", f",{len(points.split())}\n") + "\n"
    return files


def beside(own: dict[str, str], first: dict[str, str], root: Path) -> Built:
    """Build a small survey whose settings name another beside it."""
    named = own["project.toml"].replace("work_plan", 'earlier = ["../first"]\nwork_plan', 1)
    write(folder(first), root / "first")
    return build(write(folder(own | {"project.toml": named}), root / "second"), root / "out")


@pytest.mark.parametrize("points", ["A", "D"])
def test_an_earlier_survey_of_one_point_is_compared_as_any_other(points: str, tmp_path: Path) -> None:
    """One point, which this survey has too or has not: it is built, and each link leads somewhere."""
    own = texts_with()
    later = {path: text.replace("2025-05", "2025-06") for path, text in own.items()}
    made = beside(later, one_round_of(points, "OLD-1"), tmp_path)
    assert [page.title for page in made.report.pages if page.ref.id == "round-1"] == ["OLD-1"]
    held = next(one for one in made.report.exports if one.name == "locations")
    assert [row[held.at("location_id")] for row in held.rows if row[0] == "OLD-1"] == [points]


@pytest.mark.parametrize("stage", ["planned", "in_field"])
def test_a_later_survey_that_has_no_results_yet_is_built(stage: str, tmp_path: Path) -> None:
    """A plan, and samplers in place, beside an earlier survey: the report is about what there is."""
    own = one_round_of("A B", "NEW-1")
    empty = ("lab/lab_samples.csv", "lab/results.csv", "field/custody.csv", "field/return_bags.csv")
    for path in (*empty, *(("field/deployments.csv", "field/samplers.csv") if stage == "planned" else ())):
        own[path] = own[path].splitlines(keepends=True)[0]
    placed = "2025-06-20T09:00,,1.0,moist,,,FS-1,"
    rows = (line.split(",2025-05-01")[0] + f",{placed}" for line in own["field/deployments.csv"].splitlines()[1:])
    own["field/deployments.csv"] = "\n".join([own["field/deployments.csv"].splitlines()[0], *rows]) + "\n"
    made = beside(own, one_round_of("A B C D", "OLD-1"), tmp_path)
    assert not [one for one in made.findings if one.code == "earlier-unreadable"]
    assert "results" not in {one.name for one in made.report.exports}


def test_a_report_on_the_first_round_prints_nothing_of_the_second(tmp_path: Path) -> None:
    """`round = "R1"`: every number that a row gave leads to a row of the first round, and so does each data file."""
    files = texts_with(("project.toml", "work_plan", 'round = "R1"\nwork_plan'))
    made = build(write(folder(files), tmp_path / "survey"), tmp_path / "out")
    last = max(at for at, line in enumerate(files["lab/results.csv"].splitlines(), 1) if line.startswith("L-1"))
    rows = [one.origin[1] for one in made.report.values if one.origin and one.origin[0] == "lab/results.csv"]
    assert rows
    assert max(rows) <= last
    held = {one.name: one for one in made.report.exports}
    assert {row[held["results"].at("lab_sample_id")][:3] for row in held["results"].rows} == {"L-1"}
    assert "round" not in {field.name for field in held["results"].fields}
    assert {row[held["locations"].at("location_id")] for row in held["locations"].rows} == {"A", "B", "C", "D", "E1"}
    assert not [page for page in made.report.pages if page.ref.id.startswith("round")]
    assert {"900", "380", "400"}.isdisjoint(one.text.split()[0] for one in made.report.values if one.text)


def test_rounds_are_set_on_paper_of_another_format(tmp_path: Path) -> None:
    """US Letter is 8.5 by 11 inches of 72 points, lying or standing; each page has it."""
    settings = FILES["project.toml"] + '\n[publish]\npaper = "us-letter"\n'
    made = build(write(folder(FILES | {"project.toml": settings}), tmp_path / "survey"), tmp_path / "out")
    sizes = {
        tuple(sorted((round(page.mediabox.width), round(page.mediabox.height)))) for page in PdfReader(made.pdf).pages
    }
    assert sizes == {(612, 792)}


HOSTILE = (
    "<script>rounds()", "../x", "=cmd|' /C calc'!A0", "R1@R2", 'R"1', "\u202eR1\u05d0", "Autumn round", "W" * 100,
    "a/b#c?d",
)  # fmt: skip
"""Ids of a round: markup, a path, a formula, a key of another, quotes, right to left, another's title, the bound."""


@pytest.mark.parametrize("name", HOSTILE)
def test_a_round_may_be_called_anything(name: str, tmp_path: Path) -> None:
    """Built with every link sound, and no cell of a data file begins with a formula, no page holds its markup."""
    escaped = name.replace("\\", "\\\\").replace('"', '\\"')
    quoted = name.replace('"', '""')
    files = dict(FILES)
    files["project.toml"] = files["project.toml"].replace('id = "R1"\ntitle = "Spring round"', f'id = "{escaped}"')
    for path in ("locations/locations.csv", "field/deployments.csv"):
        files[path] = re.sub(r"(?<=,)R1(?=[,\n])", lambda _: f'"{quoted}"', files[path])
    made = build(write(folder(files), tmp_path / "survey"), tmp_path / "out")
    held = next(one for one in made.report.exports if one.name == "rounds")
    assert held.rows[0][0] == name
    site = made.out / "site"
    for path in site.rglob("*.html"):
        assert "<script>rounds()" not in path.read_text("utf-8"), path
    for path in site.rglob("*.csv"):
        assert not re.search(r"(?:^|,)\"?=", path.read_text("utf-8"), re.MULTILINE), path


def many_rounds(count: int) -> dict[str, str]:
    """Return the small survey with more rounds, each with a sampler at A and one at B."""
    files = dict(FILES)
    files["project.toml"] = files["project.toml"].replace("2026-01-15", "2031-01-15")
    for number in range(3, count + 1):
        month = f"{2026 + number // 6}-{number % 6 * 2 + 1:02d}"
        files["project.toml"] += f'\n[[rounds]]\nid = "Q{number}"\ntitle = "Round number {number}"\n'
        files["field/return_bags.csv"] += f"RB-{number}x,,{month}-11T12:00,2\n"
        for at, point in enumerate("AB", 1):
            serial = f"9{number}0{at}"
            files["field/samplers.csv"] += f"{serial},{point}-{number},sample,T1,used\n"
            files["field/deployments.csv"] += (
                f"{serial},{point},,Q{number},{month}-01T09:00,{month}-11T09:00,1.0,wet,intact,RB-{number}x,FS-1,FS-1\n"
            )
            files["lab/lab_samples.csv"] += (
                f"L-{serial},{serial},sample,{month}-12T09:00,{month}-14T09:00,BB{number},M-2 (invented),yes\n"
            )
            files["lab/results.csv"] += (
                f"L-{serial},pce,{10 * number},{10 * number},ng,10,2,,,,yes\nL-{serial},tce,<10,,ng,10,2,U,,,no\n"
                f"L-{serial},benzene,5,5,ng,10,2,J,,,yes\n"
            )
    return files


def test_twelve_rounds_are_built(tmp_path: Path) -> None:
    """A page for each of eleven earlier rounds, and a trend by the normal law, which is said."""
    made = build(write(folder(many_rounds(12)), tmp_path / "survey"), tmp_path / "out")
    pages = [page.ref.id for page in made.report.pages if re.fullmatch(r"round-\d+", page.ref.id)]
    assert len(pages) == 11
    text = (made.out / "site/round-changes.html").read_text("utf-8")
    assert "12 rounds with results are on record" in text
    assert "by the normal approximation for this number of rounds" in text


IN_FIELD = {
    "project.toml": '\n[[rounds]]\nid = "R3"\ntitle = "Third round"\n',
    "field/samplers.csv": "401,A-4,sample,T1,\n",
    "field/deployments.csv": "401,A,,R3,2026-01-05T09:00,,1.0,wet,,,FS-1,\n",
}
BLANKS_ALONE = {
    "project.toml": '\n[[rounds]]\nid = "R3"\ntitle = "Third round"\n',
    "field/samplers.csv": "401,A-4,sample,T1,used\n407,TB-4,trip_blank,T1,used\n",
    "field/deployments.csv": "401,A,,R3,2026-01-01T09:00,2026-01-10T09:00,1.0,wet,intact,RB-4,FS-1,FS-1\n",
    "field/return_bags.csv": "RB-4,407,2026-01-10T12:00,1\n",
    "lab/lab_samples.csv": "L-407,407,trip_blank,2026-01-11T09:00,2026-01-12T09:00,B4,M-2 (invented),yes\n",
    "lab/results.csv": "L-407,pce,6,6,ng,10,2,J,,,yes\nL-407,tce,<10,,ng,10,2,U,,,no\n",
}


@pytest.mark.parametrize("more", [IN_FIELD, BLANKS_ALONE], ids=["in the field", "blanks alone"])
def test_a_round_without_results_at_points_is_built(more: dict[str, str], tmp_path: Path) -> None:
    """Samplers in place, or only a blank analysed: nothing is compared with nothing, and no trend counts the round."""
    files = {path: text + more.get(path, "") for path, text in FILES.items()}
    made = build(write(folder(files), tmp_path / "survey"), tmp_path / "out")
    pages = {page.ref.id: page for page in made.report.pages}
    changes = str(pages["round-changes"].blocks) if "round-changes" in pages else ""
    assert "Trend over the rounds" not in changes
    assert "rounds with results are on record" not in changes


def test_the_guard_knows_the_remarks_of_an_earlier_survey(tmp_path: Path) -> None:
    """A remark of the earlier survey, quoted in this one's narrative, is kept from leaving the house."""
    first = one_round_of("A B", "OLD-1")
    rows = first["field/deployments.csv"].splitlines()
    first["field/deployments.csv"] = "\n".join([f"{rows[0]},comment", *(f"{row},{REMARK}" for row in rows[1:])]) + "\n"
    own = texts_with()
    own = {path: text.replace("2025-05", "2025-06") for path, text in own.items()}
    own["project.toml"] += '\n[publish]\nlevel = "public"\n'
    own["text/summary.md"] = f"# Summary\n\n{REMARK}\n"
    with pytest.raises(OutputFault, match="private text"):
        beside(own, first, tmp_path)
