"""The cover letter: what it says and leaves out, where its numbers come from, and what is enclosed."""

from __future__ import annotations

import csv
import hashlib
import re
import shutil
import zipfile
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from builders import EXAMPLE, cell, changed, load, setting, table, without, write
from planned_survey import folder as survey_of
from planned_survey import in_field, texts
from read_letters import NUMBERS, Read, letter_of, read

from sitegen.checking import check, check_snapshot
from sitegen.compute.evaluate import evaluate
from sitegen.compute.rounds.campaigns import Campaign
from sitegen.compute.text.tokens import tokens
from sitegen.findings.problems import OutputFault, WrongUse
from sitegen.letter.command import write_letter
from sitegen.pipeline import Built, prepare
from sitegen.render.comment.letter import letter_bytes, letter_texts
from sitegen.report.letter.compose import letter
from sitegen.report.letter.facts import token_facts, token_reads
from sitegen.report.write.context import Context

ALONE = re.compile(r"(?<![A-Za-z0-9,.\-–/])\d++(?:[.,]\d+)*+(?![A-Za-z0-9\-/])")
"""A number that stands on its own, written apart from the program's own pattern; ids and compounds hold others."""


@pytest.fixture(scope="module")
def drawn(built: Built, tmp_path_factory: pytest.TempPathFactory) -> Read:
    """Return the example's letter with its report enclosed."""
    out = tmp_path_factory.mktemp("letter") / "letter.docx"
    write_letter(EXAMPLE, out, built.out)
    return read(out)


def unlisted(found: Read) -> set[str]:
    """Return the numbers of a letter's text that its list does not have."""
    listed = " ; ".join(row[0] for row in found.listed)
    return set(ALONE.findall(found.body)) - set(ALONE.findall(listed))


def test_each_number_of_the_letter_is_in_its_list_with_a_source(drawn: Read) -> None:
    """What a word processor shows above the list holds no number that the list lacks, and no line lacks a source."""
    assert len(set(ALONE.findall(drawn.body))) > 25
    assert unlisted(drawn) == set()
    assert all(row[0] and row[1] and row[2] for row in drawn.listed)
    names = {found[1] for row in drawn.listed if (found := re.search(r"\((\S+)\)$", row[1]))}
    for name in ("points.air.planned", "count.samplers.duplicates", "count.samplers.blanks", "exposure.days.median"):
        assert name in names, f"{name}: of facts with one text each is listed"


def test_the_named_rows_hold_what_the_letter_says(drawn: Read) -> None:
    """The row of the highest mass, of each day and of each level is that of the input file, read with csv alone."""
    months = {"October": "10", "November": "11"}
    seen = 0
    for written, what, source in drawn.listed:
        place = re.match(r"(\S+\.csv), row (\d+), (\w+)", source)
        if place is None:
            continue
        rows = list(csv.reader((EXAMPLE / place[1]).read_text("utf-8-sig").splitlines()))
        value = rows[int(place[2]) - 1][rows[0].index(place[3])]
        if what.startswith("day of"):
            day, month, year = written.split()
            assert value[:10] == f"{year}-{months[month]}-{int(day):02d}", written
            seen += 1
        elif what.startswith(("highest", "screening")):
            number = float(re.split(r"[ ]", written.replace(",", ""))[0])
            assert float(value) == pytest.approx(number, rel=0.005), written  # shown to 3 figures
            seen += 1
    assert seen >= 8


DEFECTS = {
    "samplers": cell("field/samplers.csv", "0047102", "kind", "spare"),
    "deployments": table("field/deployments.csv", lambda rows: rows[:-1]),
    "results": without("lab/results.csv", "04417-005+pce"),
    "return_bags": table("field/return_bags.csv", lambda rows: rows[:-1]),
    "shipments": table("field/shipments.csv", lambda rows: rows[:-1]),
    "locations": cell("locations/locations.csv", "SG-37", "design", "added"),
    "analytes": table("lab/analytes.csv", lambda rows: rows[:-1]),
}
"""A change of one table that changes what is counted."""


@pytest.mark.parametrize("name", DEFECTS)
def test_a_token_that_a_table_changes_names_that_table(name: str) -> None:
    """A change of one table changes only tokens that say they were computed from it."""
    whole, less = load(changed()), load(changed(DEFECTS[name]))
    context = Context(less, evaluate(less), ())
    before, after = tokens(whole, evaluate(whole)), context.tokens
    facts = token_facts(context)
    moved = [one for one in facts if before.get(one) != after[one]]
    assert moved
    for one in moved:
        place = facts[one].place
        assert name in token_reads(context, one) or (place and place[0] == whole.tables[name].file), one


def test_what_is_enclosed_has_the_digests_of_the_files(drawn: Read, built: Built) -> None:
    """Size and SHA-256 of each file are those that hashlib finds, and the report's PDF comes first."""
    rows = drawn.tables[0][1:]
    assert rows[0][:2] == ["site/downloads/report.pdf", "PDF"]
    files = (path for path in (built.out / "site/downloads").rglob("*") if path.is_file())
    there = {path.relative_to(built.out).as_posix() for path in files}
    assert {row[0] for row in rows[:-1]} == there
    for name, _, size, digest in rows[:-1]:
        content = (built.out / name).read_bytes()
        assert (size, digest) == (f"{len(content):,}", hashlib.sha256(content).hexdigest())


def test_a_report_of_other_content_is_refused_where_named_and_told_where_found(built: Built, tmp_path: Path) -> None:
    """A report goes with a letter only if it was built from the same bytes and is still what was built."""
    root = tmp_path / "survey"
    shutil.copytree(EXAMPLE, root)
    with (root / "field/weather.csv").open("ab") as stream:
        stream.write(b"\n")
    with pytest.raises(WrongUse, match="built from other content"):
        write_letter(root, tmp_path / "a.docx", built.out)
    assert not (tmp_path / "a.docx").exists()
    shutil.copytree(built.out, tmp_path / "survey-report")
    write_letter(root, tmp_path / "b.docx")
    assert "is not enclosed: it was built from other content" in read(tmp_path / "b.docx").body
    shutil.rmtree(root)
    shutil.copytree(EXAMPLE, root)
    write_letter(root, tmp_path / "c.docx")
    assert len(read(tmp_path / "c.docx").tables[0]) > 10
    (tmp_path / "survey-report/site/downloads/air.csv").write_bytes(b"changed")
    write_letter(root, tmp_path / "d.docx")
    assert "its files differ from those built" in read(tmp_path / "d.docx").body


def test_no_report_beside_is_said(tmp_path: Path) -> None:
    """Without a report nothing is listed as enclosed, and the letter says so."""
    found = letter_of(changed(), tmp_path)
    assert "No report built from this content was found" in found.body
    assert [row[0] for row in found.tables[0][1:]] == ["project lead (PM-1)\n\n", "licensed reviewer (LR-1)\n\n"]


def test_the_letter_says_what_the_report_says(drawn: Read) -> None:
    """Its headline, the results above a level, the occupied building and the holds are the report's own."""
    body = drawn.body
    assert body.startswith("Draft for review, amendment and signature.")
    for said in (
        "Ostrel Bend Redevelopment Board (invented)",
        "53 of 55 planned points and 1 added in the field have results for 22 compounds.",
        "they are not concentrations",
        "IA-01, indoor air: Tetrachloroethene 14 µg/m³ (seal differs, unsigned), above 8 µg/m³ (EX-1, residential).",
        "An exceedance requires follow-up; it does not by itself establish a risk.",
        "Recorded as occupied: Office (points IA-01, IA-02).",
        "Blocks issue: comment C-1 on section Limitations, raised by LR-1, not answered yet",
        "from 23 October 2025 to 24 October 2025",
        "No previous revision is stated in the settings",
    ):
        assert said in body, said


def outside(level: str, place: Path) -> Read:
    """Return the example's letter for readers outside the team, without its private words."""
    quiet = cell("field/deployments.csv", "0047102", "comment", "Gate was locked; began 20 min late.")
    return letter_of(changed(quiet, setting('level = "internal"', f'level = "{level}"')), place)


def test_a_letter_for_the_client_tells_the_state_and_nothing_to_do(tmp_path: Path) -> None:
    """A client's copy holds no finding by its words, no comment, and no word for the team; its numbers are listed."""
    found = outside("client", tmp_path)
    assert "State of this version" in found.body
    for word in ("Outstanding before issue", "Blocks issue:", "C-1", "notify the responsible", "disposition"):
        assert word not in found.body
    assert "No previous revision is stated in the settings" in found.body
    assert unlisted(found) == set()


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        ('level = "client"', "from 53,300 (E; over range) to 53,000 ng per sampler"),
        ('level = "public"', "Changes since the previous revision are not included in this version."),
    ],
)
def test_a_client_is_told_of_a_corrected_value_and_the_public_is_not(settings: str, said: str, tmp_path: Path) -> None:
    """The corrected result is what the client's copy of the letter is about; a public one says it does not tell."""
    quiet = cell("field/deployments.csv", "0047102", "comment", "Gate was locked; began 20 min late.")
    before = changed(quiet, setting('level = "internal"', settings))
    write(before, tmp_path / "old")
    later = setting("revision = 1\n", 'revision = 2\nprevious = "../old"\n')
    value = cell("lab/results.csv", "04417-019+pce", "value", "53000")
    text = cell("lab/results.csv", "04417-019+pce", "result_text", "53000")
    found = letter_of(changed(later, value, text, folder=before), tmp_path)
    assert said in found.body, found.body[found.body.index("Changes since") :][:600]
    assert ("53,300" in found.body) is (settings == 'level = "client"')
    assert unlisted(found) == set()


def test_a_public_letter_has_no_role_code_and_no_point_that_has_a_label(tmp_path: Path) -> None:
    """Roles stand by their function alone, points by their public label."""
    whole = "\n".join([*(found := outside("public", tmp_path)).texts, *map(str, found.tables), *map(str, found.listed)])
    assert "PM-1" not in whole
    assert "LR-1" not in whole
    assert "project lead" in whole


def test_a_planned_survey_has_a_letter_to_its_work_plan(tmp_path: Path) -> None:
    """Before any field work the letter goes with the plan and tells no result."""
    found = letter_of(survey_of(texts()), tmp_path)
    assert "Work plan PL-1" in found.body
    assert "No results are on record yet" in found.body
    assert "Results of the survey" not in found.body
    assert "Work performed" not in found.body
    assert unlisted(found) == set()


def test_a_survey_in_the_field_tells_how_far_it_has_come(tmp_path: Path) -> None:
    """While samplers are in place the letter tells the placing so far and no result."""
    found = letter_of(survey_of({**texts(), **in_field()}), tmp_path)
    assert "Field work is under way" in found.body
    assert "Samplers were installed at" in found.body
    assert "No results are on record yet" in found.body
    assert unlisted(found) == set()


def test_a_letter_tells_each_round_and_what_changed(tmp_path: Path) -> None:
    """Of two rounds each has its sentence; the change from the previous revision is told with its source."""
    old, new = tmp_path / "old", tmp_path / "new"
    shutil.copytree(EXAMPLE, old)
    shutil.copytree(EXAMPLE, new)
    settings = new / "project.toml"
    text = settings.read_text("utf-8").replace("revision = 1\n", 'revision = 2\nprevious = "../old"\n')
    settings.write_text(text, "utf-8")
    results = new / "lab/results.csv"
    results.write_text(results.read_text("utf-8").replace("53300", "53000"), "utf-8")
    _, made, _ = prepare(check(new))
    survey = load(changed(without("field/deployments.csv", "0047102")))
    first = replace(made.context, survey=survey, evaluation=evaluate(survey), campaign=Campaign("R1", "First round"))
    both = replace(made.context, campaign=Campaign("R2", "Second round"), earlier=(first,))
    drawn = letter(both, made.bound.meta, made.difference, None)
    (tmp_path / "letter.docx").write_bytes(letter_bytes(drawn, made.bound.meta))
    found = read(tmp_path / "letter.docx")
    assert "First round: Samplers were installed at 53 of 55" in found.body
    assert "Second round: Samplers were installed at 54 of 55" in found.body
    assert "Changes since the previous revision" in found.body
    assert any(row[2].startswith("Comparison with revision 1 (content") for row in found.listed)
    assert unlisted(found) == set()


def test_the_same_folder_gives_the_same_bytes(tmp_path: Path) -> None:
    """Neither the clock nor the place has a part in a letter."""
    for name in ("a", "b"):
        shutil.copytree(EXAMPLE, tmp_path / name / "survey")
        write_letter(tmp_path / name / "survey", tmp_path / name / "letter.docx")
    assert (tmp_path / "a/letter.docx").read_bytes() == (tmp_path / "b/letter.docx").read_bytes()


def test_hostile_words_stay_words(hostile_folder: Path, tmp_path: Path) -> None:
    """Mark-up, templates and field codes in names come out as they were written, in parts that are sound XML."""
    root = tmp_path / "survey"
    shutil.copytree(hostile_folder, root)
    settings = root / "project.toml"
    lines = settings.read_text("utf-8")
    client = 'client = "</w:t><w:instrText>DDE {{ 7*7 }} =1+1"'
    settings.write_text(re.sub(r"(?m)^client = .*$", lambda _: client, lines), "utf-8")
    write_letter(root, tmp_path / "letter.docx")
    assert "</w:t><w:instrText>DDE {{ 7*7 }} =1+1" in read(tmp_path / "letter.docx").body
    with zipfile.ZipFile(tmp_path / "letter.docx") as package:
        for name in package.namelist():
            if name.endswith((".xml", ".rels")):
                ET.fromstring(package.read(name))  # noqa: S314 - our own file
        assert b"instrText>DDE" not in package.read("word/document.xml")


def test_a_letter_that_is_there_is_never_written_over(tmp_path: Path) -> None:
    """A person may have worked in it; a place inside the folder or another ending is refused too."""
    (tmp_path / "letter.docx").write_bytes(b"mine")
    with pytest.raises(WrongUse, match="already exists"):
        write_letter(EXAMPLE, tmp_path / "letter.docx")
    assert (tmp_path / "letter.docx").read_bytes() == b"mine"
    with pytest.raises(WrongUse, match="inside the project folder"):
        write_letter(EXAMPLE, EXAMPLE / "letter.docx")
    with pytest.raises(WrongUse, match=r"does not end in \.docx"):
        write_letter(EXAMPLE, tmp_path / "letter.txt")
    with pytest.raises(WrongUse, match="is not a report"):
        write_letter(EXAMPLE, tmp_path / "other.docx", tmp_path)


def test_private_words_keep_a_letter_from_leaving(tmp_path: Path) -> None:
    """A client whose name stands in a private table is not written into a letter for others than the team."""
    folder = changed(
        setting('level = "internal"', 'level = "client"'),
        cell("field/deployments.csv", "0047102", "comment", "Gate was locked; began 20 min late."),
    )
    private = next(path for path in folder.files if path.startswith("private/") and path.endswith(".csv"))
    header = folder.files[private].content.decode("utf-8-sig").splitlines()[0].split(",")
    line = ",".join("Ostrel Bend Redevelopment Board (invented)" if name == "name" else "" for name in header)
    root = write(folder, tmp_path / "survey")
    with (root / private).open("a", encoding="utf-8") as stream:
        stream.write(f"{line}\n")
    with pytest.raises(OutputFault, match="private text"):
        write_letter(root, tmp_path / "letter.docx")
    assert not (tmp_path / "letter.docx").exists()


def test_the_list_says_all_that_the_letter_is_checked_for() -> None:
    """What is searched for private words is all that the file shows, the line above each page included."""
    _, made, _ = prepare(check_snapshot(changed()))
    told = list(letter_texts(letter(made.context, made.bound.meta, None, None)))
    assert NUMBERS in told
    assert told[-1] == "Draft letter: KD-2025-01, revision 1"
