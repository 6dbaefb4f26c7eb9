"""The kit as a folder: what it holds, what refuses it, and that nothing of anybody's is lost."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import pikepdf
import pytest
from builders import write
from kits import edited
from planned_survey import folder, in_field, texts
from typer.testing import CliRunner

from sitegen.checking import check
from sitegen.cli import app
from sitegen.fieldwork.kit import compose
from sitegen.fieldwork.kit.command import make_kit
from sitegen.fieldwork.kit.prefilled import HOW_TO_USE
from sitegen.findings.outcomes import Outcome
from sitegen.findings.problems import OutputFault, Stopped, WrongUse
from sitegen.render.proof.pdf_text import read_pdf

PEOPLE = "role,name,surname,phone\nFS-1,Ada,Inventedsson,555-0100\n"


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Set nothing: for tests of where a kit goes, not of how it looks."""
    monkeypatch.setattr(compose, "set_pdf", lambda name, _data, **_how: f"%PDF of {name}".encode())
    monkeypatch.setattr(compose, "labels_pdf", lambda _survey, _plan: b"%PDF of labels")
    monkeypatch.setattr(compose, "field_form", lambda _survey, _plan: b"<!doctype html><title>form</title>")


def survey_at(place: Path, files: dict[str, str] | None = None) -> Path:
    return write(folder(files or texts()), place / "survey")


def written(root: Path) -> dict[str, bytes]:
    return {path.relative_to(root).as_posix(): path.read_bytes() for path in root.rglob("*") if path.is_file()}


def kit(source: Path, out: Path | None = None, *, contacts: bool = False) -> Outcome:
    return make_kit(source, out, contacts=contacts)


def test_a_kit_has_all_that_is_carried(tmp_path: Path) -> None:
    """Documents, files for devices, README and record stand in FOLDER-kit; each PDF says PDF/UA and PDF/A."""
    source = survey_at(tmp_path)
    outcome = kit(source)
    found = written(tmp_path / "survey-kit")
    assert outcome.done
    assert outcome.lines[-1] == f"kit  {tmp_path / 'survey-kit'}"
    top = {name for name in found if "/" not in name}
    assert top == {
        "README.txt", "kit.json", "field_form.html", "maps.pdf", "log_sheets.pdf", "custody_forms.pdf",
        "packing_list.pdf", "checklists.pdf", "labels.pdf",
    }  # fmt: skip
    record = json.loads(found["kit.json"])
    assert f'"kit":"{record["form"]}"'.encode() in found["field_form.html"]
    assert {name.partition("/")[0] for name in found} - top == {"stakeout", "tables"}
    for name in top:
        if name.endswith(".pdf"):
            with pikepdf.open(tmp_path / "survey-kit" / name) as document, document.open_metadata() as about:
                assert (about.pdfa_status, about["pdfuaid:part"]) == ("3A", "1"), name


@pytest.mark.long
def test_the_same_folder_gives_the_same_bytes(tmp_path: Path) -> None:
    """Two kits of one folder, in places of other names, are equal byte for byte, before the work and during it."""
    for stage, files in (("planned", texts()), ("begun", in_field())):
        source = survey_at(tmp_path / stage, files)
        for name in ("one", "other"):
            kit(source, tmp_path / stage / name)
        assert written(tmp_path / stage / "one") == written(tmp_path / stage / "other")


@pytest.mark.usefixtures("quick")
def test_the_record_proves_every_file(tmp_path: Path) -> None:
    """kit.json has the SHA-256 of each other file, as hashlib gives it, and the digest of the folder."""
    source = survey_at(tmp_path)
    kit(source)
    found = written(tmp_path / "survey-kit")
    record = json.loads(found.pop("kit.json"))
    assert record["files"] == {name: hashlib.sha256(content).hexdigest() for name, content in found.items()}
    survey = check(source).survey
    assert survey is not None
    assert (record["project"], record["stage"], record["content_digest"]) == ("PL-1", "planned", survey.digest)


@pytest.mark.usefixtures("quick")
def test_what_people_wrote_into_a_kit_is_not_replaced(tmp_path: Path) -> None:
    """A kit is replaced while it is as it was written; one with an added or changed file is refused and kept."""
    source, out = survey_at(tmp_path), tmp_path / "survey-kit"
    kit(source)
    kit(source)
    (out / "field-AB12-1.json").write_text("{}")
    (out / "tables/deployments.csv").write_text("sampler_id\n0001\n")
    before = written(out)
    with pytest.raises(WrongUse, match=r"2 file\(s\).*field-AB12-1\.json, tables/deployments\.csv"):
        kit(source)
    assert written(out) == before
    (out / "kit.json").write_text("no record")
    with pytest.raises(WrongUse, match="were added or changed"):
        kit(source)


@pytest.mark.usefixtures("quick")
def test_places_that_are_something_else_are_refused(tmp_path: Path) -> None:
    """The project, a folder in it, another project, a report, or any folder with files of others."""
    source = survey_at(tmp_path)
    other = write(folder(texts()), tmp_path / "other")
    report = tmp_path / "report"
    (report / "site").mkdir(parents=True)
    (report / "build.json").write_text("{}")
    full = tmp_path / "full"
    full.mkdir()
    (full / "mine.txt").write_text("mine")
    before = written(tmp_path)
    for place in (source, source / "kit", tmp_path, other, report, full, full / "mine.txt"):
        with pytest.raises(WrongUse):
            kit(source, place)
    assert written(tmp_path) == before
    (tmp_path / "empty").mkdir()
    assert kit(source, tmp_path / "empty").done


@pytest.mark.usefixtures("quick")
def test_findings_that_stop_refuse_the_kit(tmp_path: Path) -> None:
    """A point of a ticket that does not exist stops it; the last good kit stays."""
    source, out = survey_at(tmp_path), tmp_path / "survey-kit"
    kit(source)
    before = written(out)
    clearance = source / "field/clearance.csv"
    clearance.write_text(clearance.read_text().replace("SS-1;SS-2", "SS-1;SS-9"))
    with pytest.raises(Stopped) as stopped:
        kit(source)
    assert any(finding.code == "unknown-id" for finding in stopped.value.findings)
    assert written(out) == before


@pytest.mark.usefixtures("quick")
def test_a_failure_keeps_the_last_good_kit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault on the way leaves the kit as it was, and nothing beside it."""
    source, out = survey_at(tmp_path), tmp_path / "survey-kit"
    kit(source)
    before = written(out)

    def fail(_self: Path, _data: bytes) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", fail)
    with pytest.raises(OutputFault, match="No space left"):
        kit(source)
    monkeypatch.undo()
    assert written(out) == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["survey", "survey-kit"]


@pytest.mark.usefixtures("quick")
def test_a_survey_without_points_or_with_results_has_no_kit(tmp_path: Path, example: Path) -> None:
    """Without a point there is nothing to take to the field; with samples at the laboratory the field work is over."""
    bare = texts()
    bare["locations/locations.csv"] = bare["locations/locations.csv"].partition("\n")[0] + "\n"
    bare["field/clearance.csv"] = bare["field/clearance.csv"].partition("\n")[0] + "\n"
    for source in (survey_at(tmp_path, bare), example):
        with pytest.raises(WrongUse, match="nothing to take to the field"):
            kit(source, tmp_path / "kit")


@pytest.mark.usefixtures("quick")
def test_unsurveyed_points_are_told(tmp_path: Path) -> None:
    """Points with a planned position only are told, and those without any."""
    files = edited("locations/locations.csv", "grid,470040.00,4770015.00", "grid,,")
    table = files["locations/locations.csv"].splitlines()
    surveyed = {row: ",470015.2,4770015.1" if row.startswith("SG-01,") else ",," for row in table[1:]}
    files["locations/locations.csv"] = "\n".join(
        [f"{table[0]},easting,northing", *(f"{row}{more}" for row, more in surveyed.items()), ""]
    )
    lines = kit(survey_at(tmp_path, files)).lines
    first = "SG-03, SG-04, SG-05, SG-06, SG-07"
    assert f"points with a planned position only, not surveyed: 16 ({first} and 11 more)" in lines
    assert "points without a position, not on any map: 1 (SG-02)" in lines
    assert "samplers to install: 21; in place and to be retrieved: 0" in lines


@pytest.mark.usefixtures("quick")
def test_signs_that_print_lacks_are_told(tmp_path: Path) -> None:
    """A point's reason in a script that no font of the kit has is replaced, and that is said."""
    files = edited("locations/locations.csv", "upgradient corner", "上 corner")
    (line,) = [line for line in kit(survey_at(tmp_path, files)).lines if line.startswith("characters")]
    assert "U+4E0A" in line


@pytest.mark.usefixtures("quick")
def test_private_words_keep_a_kit_from_being_written(tmp_path: Path) -> None:
    """A private name in a point's reason would be printed: no kit, with contacts or without; the word is not told."""
    files = edited("locations/locations.csv", "upgradient corner", "ask Inventedsson")
    source = survey_at(tmp_path, files | {"private/people.csv": PEOPLE})
    for contacts in (False, True):
        with pytest.raises(OutputFault, match=r"log_sheets\.pdf") as fault:
            kit(source, contacts=contacts)
        assert "Inventedsson" not in str(fault.value)
    assert not (tmp_path / "survey-kit").exists()


@pytest.mark.usefixtures("quick")
def test_a_surname_may_be_a_word_of_the_format(tmp_path: Path) -> None:
    """Somebody called Hand, Page or Day keeps no kit from being written: these are words of every form."""
    people = "surname\nHand\nPage\nDay\nFoil\n"
    assert kit(survey_at(tmp_path, texts() | {"private/people.csv": people})).done


@pytest.mark.usefixtures("quick")
def test_private_words_in_a_table_are_found(tmp_path: Path) -> None:
    """A private name in a cell that the form and the tables take over is found in both."""
    row = "0206,IA-1,NA,2025-10-28T08:12,,NA,,,FS-1,,"
    files = edited("field/deployments.csv", f"{row}\n", f"{row}rang Inventedsson\n", in_field())
    files["private/people.csv"] = PEOPLE
    with pytest.raises(OutputFault, match=r"field_form\.html, tables/deployments\.csv"):
        kit(survey_at(tmp_path, files))


def test_contacts_are_there_when_asked_for_alone(tmp_path: Path) -> None:
    """The sheet of contacts and the README's warning come with --contacts; without it no private word is there."""
    source = survey_at(tmp_path, texts() | {"private/people.csv": PEOPLE})
    lines = kit(source, tmp_path / "with", contacts=True).lines
    assert "contacts.pdf contains personal data" in lines
    assert (tmp_path / "with/contacts.pdf").is_file()
    assert "THIS KIT CONTAINS PERSONAL DATA" in (tmp_path / "with/README.txt").read_text()
    kit(source, tmp_path / "without")
    assert not (tmp_path / "without/contacts.pdf").exists()
    for name, content in written(tmp_path / "without").items():
        text = read_pdf(content).text if name.endswith(".pdf") else content.decode()
        assert "PERSONAL DATA" not in text, name
        assert not re.search("Inventedsson|555-?0100", text), name


@pytest.mark.usefixtures("quick")
def test_contacts_without_private_tables_are_told(tmp_path: Path) -> None:
    """Where nothing private can be read, the kit is written, the sheet is not, and the command says so and fails."""
    outcome = kit(survey_at(tmp_path), contacts=True)
    assert not outcome.done
    assert any("contacts.pdf was not written" in line for line in outcome.lines)
    assert (tmp_path / "survey-kit/kit.json").is_file()


@pytest.mark.usefixtures("quick")
def test_the_command_says_what_was_done(tmp_path: Path) -> None:
    """``sitegen kit FOLDER --out PLACE`` writes there and ends well; a bad place ends with another code."""
    source = survey_at(tmp_path)
    made = CliRunner().invoke(app, ["kit", str(source), "--out", str(tmp_path / "carry")])
    assert made.exit_code == 0, made.output
    assert (tmp_path / "carry/kit.json").is_file()
    assert CliRunner().invoke(app, ["kit", str(source), "--out", str(source)]).exit_code != 0


@pytest.mark.usefixtures("quick")
def test_the_readme_goes_by_the_day(tmp_path: Path) -> None:
    """It names every file of the kit, in the order of the day, and words of the project stay words."""
    files = edited("project.toml", "Soil-gas survey of Planned Yard (invented)", "Survey {{ 1 }} {% x %} #a")
    kit(survey_at(tmp_path, files))
    text = (tmp_path / "survey-kit/README.txt").read_text()
    order = ["BEFORE LEAVING\n", "AT EACH POINT", "IN THE EVENING", "AT EACH CUSTODY TRANSFER", "IN THE OFFICE"]
    assert sorted(order, key=text.index) == order
    assert "Field kit: Survey {{ 1 }} {% x %} #a\n" in text
    for name in written(tmp_path / "survey-kit").keys() - {"README.txt"}:
        assert name.rpartition("/")[2] in text, name
    assert max(map(len, text.splitlines())) <= 100
    assert HOW_TO_USE in " ".join(text.split())
