"""An archive proves itself: independent checkers accept it, and nothing in it can change unseen."""

from __future__ import annotations

import json
import os
import random
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

import bagit
import pytest
from small_survey import small_survey

from sitegen import cli
from sitegen.archive import make
from sitegen.archive import verify as verifying
from sitegen.archive.make import Archived, archive
from sitegen.archive.verify import Verdict, verify
from sitegen.findings.bagpaths import unsafe_paths
from sitegen.findings.problems import OutputFault, Stopped, WrongUse
from sitegen.project import limits
from sitegen.render.place.bag import Label, close_bag, info_bytes, manifest_bytes, zip_bag
from sitegen.render.place.fixity import fixities_below

DAY = date(2025, 12, 12)
NAME = "KD-2025-01-r1"
PRIVATE_WORDS = ("Varnhollow", "555-0142")
ELSEWHERE = {"TZ": "Asia/Kathmandu", "LC_ALL": "C", "LANG": "tr_TR.UTF-8", "PYTHONHASHSEED": "4711", "USER": "other"}


def contents(root: Path) -> dict[str, bytes]:
    return {p.relative_to(root).as_posix(): p.read_bytes() for p in root.rglob("*") if p.is_file()}


@pytest.fixture(scope="module")
def survey(example: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a survey of a few points, whose inputs hold a private word."""
    return small_survey(example, tmp_path_factory.mktemp("survey") / "survey")


@pytest.fixture(scope="module")
def made(survey: Path, tmp_path_factory: pytest.TempPathFactory) -> Archived:
    """Archive the small survey once for all tests, with both of its builds."""
    return archive(survey, tmp_path_factory.mktemp("archives"))


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """Make a small bag, quick to check: it holds no project."""
    root = tmp_path / "small"
    (root / "data/deep").mkdir(parents=True)
    (root / "data/a.txt").write_bytes(b"one\n")
    (root / "data/deep/ö.txt").write_bytes(b"two\n")
    (root / "README.txt").write_bytes(b"read me\n")
    close_bag(root, [Label("Bagging-Date", DAY.isoformat()), Label("Bag-Software-Agent", "sitegen 0.1.0")], DAY)
    return root


def test_independent_checkers_accept_the_archive(made: Archived) -> None:
    """A BagIt library and the shell's checksum tools find both bags valid."""
    assert made.private_bag is not None
    for bag in (made.bag, made.private_bag):
        bagit.Bag(str(bag)).validate(processes=1)
        for algorithm in ("sha256", "sha512"):
            for part in ("manifest", "tagmanifest"):
                command = [f"{algorithm}sum", "-c", "--quiet", "--strict", f"{part}-{algorithm}.txt"]
                done = subprocess.run(command, cwd=bag, capture_output=True, text=True, check=False)
                assert (done.returncode, done.stdout) == (0, ""), done.stdout


def test_the_archive_holds_what_is_promised(made: Archived, survey: Path) -> None:
    """Inputs are byte for byte those of the folder, beside site, PDF, data, findings and records."""
    data = made.bag / "data"
    kept = contents(data / "project")
    assert kept == {name: (survey / name).read_bytes() for name in kept}
    assert {"project.toml", "lab/results.csv", "review/signoff.csv", "records/receipt_1.txt"} <= kept.keys()
    assert not [name for name in kept if name.startswith("private/")]
    for name in ("site/index.html", "site/downloads/report.pdf", "site/downloads/results.csv", "findings.json",
                 "findings.csv", "provenance.json", "dependencies.txt", "build.json"):  # fmt: skip
        assert (data / name).stat().st_size > 0, name
    info = bagit.Bag(str(made.bag)).info
    assert info["Bagging-Date"] == "2025-12-12"
    assert (info["Project"], info["Revision"], info["Access-Level"]) == ("KD-2025-01", "1", "internal")


def test_private_files_are_in_a_bag_of_their_own(made: Archived) -> None:
    """The private bag holds the private files with its own access level; a private word is told by file."""
    assert made.private_bag is not None
    assert "Access-Level: restricted" in (made.private_bag / "bag-info.txt").read_text("utf-8")
    assert list(contents(made.private_bag / "data/private")) == ["contacts.csv"]
    assert "data/project/field/deployments.csv" in made.personal
    assert "data/site/locations/SG-50.html" in made.personal, "the note itself, as the publish level allows"
    told = ("data/site/findings.html", "data/findings.csv", "data/findings.json")
    assert not set(told) & set(made.personal), "a finding repeats nothing of what it found"
    listed = (made.bag / "README.txt").read_text("utf-8")
    assert [name for name in made.personal if f"\n  {name}\n" not in listed] == []
    for name, content in contents(made.bag).items():
        if name not in made.personal:
            assert not any(word.encode() in content for word in PRIVATE_WORDS), name


def test_both_builds_have_one_digest(made: Archived) -> None:
    """README, provenance and build record name the same output digest, which common tools repeat."""
    record = json.loads((made.bag / "data/build.json").read_text("utf-8"))
    assert record["output_digest"] == made.output_digest
    entities = json.loads((made.bag / "data/provenance.json").read_text("utf-8"))["entity"]
    assert {entities[f"this:site-{n}"]["this:output-digest"] for n in (1, 2)} == {made.output_digest}
    assert (made.bag / "README.txt").read_text("utf-8").count(made.output_digest) == 2
    shell = "LC_ALL=C find * -type f | LC_ALL=C sort | xargs -d '\\n' sha256sum | sha256sum"
    done = subprocess.run(["bash", "-c", shell], cwd=made.bag / "data/site", capture_output=True, text=True, check=True)
    assert done.stdout.split()[0] == made.output_digest


def test_provenance_names_inputs_and_versions(made: Archived) -> None:
    """Every input stands with its SHA-256, every library of the lock with its version."""
    record = json.loads((made.bag / "data/provenance.json").read_text("utf-8"))
    inputs = fixities_below(made.bag / "data/project")
    for name, fixity in inputs.items():
        assert record["entity"][f"this:data/project/{name}"]["this:sha256"] == fixity.sha256
    lock = (made.bag / "data/dependencies.txt").read_text("utf-8").splitlines()
    pairs = [line.split()[0].split("==") for line in lock if not line.startswith(("#", "    --hash="))]
    assert pairs == sorted(pairs)
    assert {"typst", "mkdocs", "pandas", "tzdata"} <= {name for name, _ in pairs}
    assert all(record["agent"][f"this:{name}"]["this:version"] == at for name, at in pairs)
    assert str(Path.home()) not in json.dumps(record)


@pytest.mark.long
def test_another_machine_gives_the_same_archive(made: Archived, survey: Path, tmp_path: Path) -> None:
    """Another folder, user, zone, locale, hash seed and directory order change no byte; nor does a zip."""
    copy = tmp_path / "far away" / "copy"
    for path in sorted((p for p in survey.rglob("*") if p.is_file()), reverse=True):
        target = copy / path.relative_to(survey)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, target)
    out = tmp_path / "o"
    subprocess.run(
        [sys.executable, "-m", "sitegen", "archive", str(copy), "--out", str(out), "--zip"],
        check=True, capture_output=True, cwd=tmp_path, env=os.environ | ELSEWHERE,
    )  # fmt: skip
    expected = tmp_path / "expected.zip"
    zip_bag(made.bag, expected, DAY, NAME)
    assert (out / f"{NAME}.zip").read_bytes() == expected.read_bytes()
    assert sorted(path.name for path in out.iterdir()) == [f"{NAME}-private.zip", f"{NAME}.zip"]
    with zipfile.ZipFile(expected) as pack:
        inside = {name.removeprefix(f"{NAME}/"): pack.read(name) for name in pack.namelist()}
        assert inside == contents(made.bag)
        assert {entry.date_time for entry in pack.infolist()} == {(2025, 12, 12, 0, 0, 0)}


@pytest.mark.long
def test_the_example_is_rebuilt_identically(example: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The example's report, built anew from its archive, is the archived one, byte for byte."""
    monkeypatch.setattr(make, "_built_twice", lambda *_: ("0" * 64, "0" * 64))
    verdict = verify(archive(example, tmp_path).bag)
    assert verdict.holds, verdict
    assert verdict.rebuilt is not None
    assert verdict.rebuilt > 150
    assert verdict.versions == ()
    assert "identical in every byte" in "\n".join(verdict.lines())


def test_a_zip_is_rebuilt_identically(made: Archived, tmp_path: Path) -> None:
    """A zipped archive is proved as its folder is, without being unpacked beside itself."""
    pack = tmp_path / "a.zip"
    zip_bag(made.bag, pack, DAY, NAME)
    verdict = verify(pack)
    assert (verdict.holds, verdict.notes) == (True, ())
    assert [path.name for path in tmp_path.iterdir()] == ["a.zip"]


@pytest.mark.long
def test_the_revision_before_is_in_the_archive(survey: Path, made: Archived, tmp_path: Path) -> None:
    """A report with a page of changes is rebuilt from the archive alone, the old revision out of reach."""
    folder, old = tmp_path / "work/new", tmp_path / "work/old"
    shutil.copytree(survey, folder)
    shutil.copytree(made.bag, old)
    toml = folder / "project.toml"
    toml.write_text(toml.read_text("utf-8").replace("revision = 1", 'revision = 2\nprevious = "../old"'), "utf-8")
    results = folder / "lab/results.csv"
    results.write_bytes(results.read_bytes().replace(b",ng,10,", b",ng,11,", 1))
    bag = archive(folder, tmp_path / "kept").bag
    shutil.rmtree(tmp_path / "work")
    assert (bag / "data/previous/data/project/project.toml").is_file()
    assert not list((bag / "data/previous").rglob("private"))
    verdict = verify(bag)
    assert verdict.holds, verdict.lines()
    assert "11" in (bag / "data/site/changes.html").read_text("utf-8")


def resealed(bag: Path, target: Path, change: Callable[[Path], None]) -> Path:
    """Copy a bag, change it, and write new manifests over the change."""
    shutil.copytree(bag, target)
    change(target)
    info = [Label(*line.split(": ", 1)) for line in (bag / "bag-info.txt").read_text("utf-8").splitlines()]
    for name in [*target.glob("*manifest-*.txt")]:
        name.unlink()
    close_bag(target, [label for label in info if label.name != "Payload-Oxum"], DAY)
    return target


def test_a_report_that_its_inputs_do_not_give_is_named(made: Archived, tmp_path: Path) -> None:
    """A number changed in a page, with all digests made anew, is found by the rebuild alone."""

    def change(root: Path) -> None:
        page = root / "data/site/index.html"
        page.write_bytes(page.read_bytes().replace(b"Kesterly", b"Westerly", 1))
        (root / "data/site/slipped.html").write_bytes(b"added")

    verdict = verify(resealed(made.bag, tmp_path / "forged", change))
    assert verdict.faults == ()
    assert not verdict.holds
    assert {fault.path for fault in verdict.differences} == {"data/site/index.html", "data/site/slipped.html"}
    assert "the report in the archive does not follow from its inputs" in "\n".join(verdict.lines())


def test_another_version_is_not_called_damage(made: Archived, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where versions differ, a difference is put down to them by name."""

    def change(root: Path) -> None:
        (root / "data/site/index.html").write_bytes(b"as another version would write it")
        path = root / "data/provenance.json"
        record = json.loads(path.read_text("utf-8"))
        record["agent"]["this:typst"]["this:version"] = "0.0.1"
        path.write_text(json.dumps(record), "utf-8")

    bag = resealed(made.bag, tmp_path / "older", change)
    same = {
        name: f for name, f in fixities_below(made.bag / "data").items() if name.startswith(("site/", "build", "find"))
    }
    monkeypatch.setattr(verifying, "build", lambda *_, **__: None)
    monkeypatch.setattr(verifying, "_made", lambda _: {f"data/{name}": f for name, f in same.items()})
    verdict = verify(bag)
    assert [name for name, _, _ in verdict.versions] == ["typst"]
    said = "\n".join(verdict.lines())
    assert "does not indicate damage" in said
    assert "typst: 0.0.1 when archived" in said


FILES = ("data/a.txt", "data/deep/ö.txt", "README.txt", "bagit.txt", "bag-info.txt", "manifest-sha256.txt",
         "manifest-sha512.txt", "tagmanifest-sha256.txt", "tagmanifest-sha512.txt")  # fmt: skip


def named(verdict: Verdict, name: str) -> bool:
    return any(name in (fault.path, *fault.said.split()) for fault in verdict.faults)


@pytest.mark.parametrize("name", FILES)
def test_a_flipped_bit_is_named(small: Path, name: str) -> None:
    """Each bit of each byte of a small bag is flipped in turn; the check names that file every time."""
    path = small / name
    whole = path.read_bytes()
    assert verify(small).holds
    rng = random.Random(name)  # noqa: S311 - places, no secrets
    for at in range(len(whole)) if len(whole) < 100 else sorted(rng.sample(range(len(whole)), 100)):
        flipped = bytearray(whole)
        flipped[at] ^= 1 << rng.randrange(8)
        path.write_bytes(flipped)
        verdict = verify(small)
        assert not verdict.holds, (name, at)
        assert named(verdict, name), (name, at, verdict.faults)
    path.write_bytes(whole)
    assert verify(small).holds


def test_a_flipped_byte_in_the_example_is_named(made: Archived, tmp_path: Path) -> None:
    """One byte in each of 40 files of the real archive, drawn by a seed, is found where it is."""
    copy = tmp_path / "copy"
    shutil.copytree(made.bag, copy)
    rng = random.Random(9)  # noqa: S311
    for name in rng.sample(sorted(n for n, content in contents(copy).items() if content), 40):
        whole = (copy / name).read_bytes()
        at = rng.randrange(len(whole))
        (copy / name).write_bytes(whole[:at] + bytes([whole[at] ^ (1 + rng.randrange(255))]) + whole[at + 1 :])
        assert named(verify(copy, rebuild=False), name), (name, at)
        (copy / name).write_bytes(whole)
    assert verify(copy, rebuild=False).holds


def test_a_flipped_byte_in_a_zip_is_told(small: Path, tmp_path: Path) -> None:
    """Any byte of a zipped bag that changes its content or its wrapping is told."""
    pack = tmp_path / "small.zip"
    zip_bag(small, pack, DAY, "small")
    whole = pack.read_bytes()
    assert verify(pack).holds
    rng = random.Random(3)  # noqa: S311
    unseen = []
    for at in rng.sample(range(len(whole)), 400):
        pack.write_bytes(whole[:at] + bytes([whole[at] ^ (1 + rng.randrange(255))]) + whole[at + 1 :])
        verdict = verify(pack)
        if verdict.holds and not any("packed anew" in note for note in verdict.notes):
            unseen.append(at)
    assert unseen == []


def test_missing_and_added_files_are_named(small: Path) -> None:
    """A file taken away and a file put in are each named."""
    (small / "data/a.txt").unlink()
    (small / "data/deep/new.txt").write_bytes(b"new")
    found = {(fault.kind, fault.path) for fault in verify(small).faults}
    assert found >= {("missing", "data/a.txt"), ("added", "data/deep/new.txt")}


ESCAPES = ("data/../../outside.txt", "/etc/passwd", "C:/windows/x", "..\\x", "~/x", "data/./a.txt", "data//a.txt",
           "data/con.txt", "data/a.txt.", "data/a\x07b")  # fmt: skip


@pytest.mark.parametrize("path", ESCAPES)
def test_an_escaping_path_in_a_manifest_is_refused(small: Path, path: str) -> None:
    """A bag made by hand whose manifest points elsewhere is refused, and the file there is not read."""
    manifest = small / "manifest-sha512.txt"
    manifest.write_bytes(manifest.read_bytes() + f"{'0' * 128}  {path}\n".encode())
    verdict = verify(small)
    assert ("path", path) in {(fault.kind, fault.path) for fault in verdict.faults} or "form" in {
        fault.kind for fault in verdict.faults
    }
    assert not verdict.holds


@pytest.mark.parametrize("path", [path for path in ESCAPES if not path.startswith("data/a\x07")])
def test_an_escaping_path_in_a_zip_is_refused(small: Path, path: str, tmp_path: Path) -> None:
    """A zip file with a name that leads out, is absolute or is no name everywhere is refused."""
    pack = tmp_path / "bad.zip"
    zip_bag(small, pack, DAY, "small")
    with zipfile.ZipFile(pack, "a") as opened:
        opened.writestr(path if path.startswith(("/", "C:", "..", "~")) else f"small/{path}", b"x")
    verdict = verify(pack)
    assert "path" in {fault.kind for fault in verdict.faults}
    assert sorted(item.name for item in tmp_path.iterdir()) == ["bad.zip", "small"]


def test_links_are_refused(small: Path, tmp_path: Path) -> None:
    """A link in a folder, to a file or to a folder, and a link in a zip file are refused unread."""
    (tmp_path / "secret").write_bytes(b"secret")
    (small / "data/link.txt").symlink_to(tmp_path / "secret")
    (small / "data/way").symlink_to(tmp_path, target_is_directory=True)
    assert {(f.kind, f.path) for f in verify(small).faults} == {("path", "data/link.txt"), ("path", "data/way")}
    pack = tmp_path / "link.zip"
    with zipfile.ZipFile(pack, "w") as opened:
        entry = zipfile.ZipInfo("small/data/link.txt")
        entry.external_attr = 0o120777 << 16
        opened.writestr(entry, "../../../secret")
    assert {f.kind for f in verify(pack).faults} == {"path"}


def test_names_that_could_be_taken_for_each_other_are_refused() -> None:
    """Paths that differ by case or Unicode form alone, of files or of folders, are told."""
    pairs = (("data/A.txt", "data/a.txt"), ("data/caf\u00e9", "data/cafe\u0301"), ("data/X/1", "data/x/2"))
    for pair in pairs:
        assert len(list(unsafe_paths(pair))) == 1, pair
    assert list(unsafe_paths(["data/a.txt", "data/b.txt", "data/b/c.txt"])) == []


def test_a_name_twice_in_a_zip_is_refused(small: Path, tmp_path: Path) -> None:
    """Two entries of one name, of which readers would see different ones, are refused."""
    pack = tmp_path / "twice.zip"
    zip_bag(small, pack, DAY, "small")
    with zipfile.ZipFile(pack, "a") as opened, pytest.warns(UserWarning, match="Duplicate"):
        opened.writestr("small/data/a.txt", b"other")
    assert any("twice" in fault.said for fault in verify(pack).faults)


def test_files_to_fetch_are_refused(small: Path) -> None:
    """A bag that wants files from elsewhere is not whole."""
    (small / "fetch.txt").write_bytes(b"https://example.invalid/x 3 data/x\n")
    assert "fetch.txt" in {fault.path for fault in verify(small).faults}


@pytest.mark.parametrize(("bound", "most", "said"), [
    ("LIST_BYTES", 100, "manifest-sha512.txt: it can't be read (it is larger than 100 bytes)"),
    ("LIST_LINES", 7, "manifest-sha256.txt: it can't be read (the lists have more than 7 lines)"),
    ("INFO_BYTES", 20, "bag-info.txt: it is larger than 20 bytes"),
])  # fmt: skip
def test_a_list_beyond_its_bound_is_not_read(
    small: Path, monkeypatch: pytest.MonkeyPatch, bound: str, most: int, said: str
) -> None:
    """An archive that says it is ours is read within the same bounds as any other bag."""
    monkeypatch.setattr(limits, bound, limits.Bound("", most, "lines", ""))
    assert said in "\n".join(verify(small).lines())


def test_a_record_beyond_its_bound_is_not_read(made: Archived, monkeypatch: pytest.MonkeyPatch) -> None:
    """The record of what made an archive is held in memory, so that it has a bound too."""
    monkeypatch.setattr(limits, "RECORD_BYTES", limits.Bound("", 100, "bytes", ""))
    assert "data/provenance.json: it is larger than 100 bytes" in "\n".join(verify(made.bag).lines())


def test_user_text_keeps_to_its_line_in_the_tag_file() -> None:
    """A title with line breaks can't add a line to bag-info.txt."""
    forged = "Depot\nPayload-Oxum: 1.1\r\n\x0bAccess-Level: public\u2028x"
    assert info_bytes([Label("Title", forged)]).count(b"\n") == 1


def changed_copy(survey: Path, target: Path, path: str, old: str, new: str) -> Path:
    shutil.copytree(survey, target)
    text = (target / path).read_bytes().decode()
    assert old in text
    (target / path).write_bytes(text.replace(old, new).encode())
    return target


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out the second build, which is tested elsewhere."""
    monkeypatch.setattr(make, "_built_twice", lambda *_: ("0" * 64, "0" * 64))


@pytest.mark.usefixtures("quick")
def test_private_words_stop_an_archive_that_leaves_the_house(
    survey: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An archive for clients with a private word in it is refused, the file is named, nothing is written."""
    folder = changed_copy(survey, tmp_path / "survey", "records/receipt_1.txt", "\n", "\nMr Inkwellby signed\n")
    with (folder / "private/contacts.csv").open("a", encoding="utf-8") as handle:
        handle.write("owner (invented),,Inkwellby,\n")
    monkeypatch.setattr(make, "_refuse_wide_access", lambda _: None)
    toml = folder / "project.toml"
    toml.write_text(toml.read_text("utf-8") + '\n[archive]\naccess = "client"\n', "utf-8")
    with pytest.raises(OutputFault, match=r"records/receipt_1\.txt"):
        archive(folder, tmp_path / "out")
    assert not any((tmp_path / "out").iterdir())


def test_an_archive_may_not_be_wider_than_its_report(survey: Path, tmp_path: Path) -> None:
    """Public access to the archive of an internal report is refused before anything is written."""
    folder = tmp_path / "survey"
    shutil.copytree(survey, folder)
    toml = folder / "project.toml"
    toml.write_text(toml.read_text("utf-8") + '\n[archive]\naccess = "public"\n', "utf-8")
    with pytest.raises(WrongUse, match="wider"):
        archive(folder, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_name_that_not_every_checker_reads_is_refused(survey: Path, tmp_path: Path) -> None:
    """A file called 50%.txt can't be listed so that all tools find it: said before anything is written."""
    folder = tmp_path / "survey"
    shutil.copytree(survey, folder)
    (folder / "records/50%.txt").write_bytes(b"x")
    with pytest.raises(OutputFault, match="50%"):
        archive(folder, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_builds_that_differ_are_not_archived(
    survey: Path, made: Archived, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the second build gives other bytes the archive is refused, naming the file."""

    def second_run(command: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        site = Path(command[command.index("--out") + 1]) / "site"
        shutil.copytree(made.bag / "data/site", site)
        (site / "index.html").write_bytes(b"something of the day")
        return subprocess.CompletedProcess(command, 0)

    monkeypatch.setattr(make.subprocess, "run", second_run)
    with pytest.raises(OutputFault, match=r"two builds differ in 1 file\(s\): index.html"):
        archive(survey, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_findings_that_stop_are_told(survey: Path, tmp_path: Path) -> None:
    """A folder that can't be built can't be archived; an archive for issue needs what an issue needs."""
    folder = tmp_path / "survey"
    shutil.copytree(survey, folder)
    (folder / "lab/results.csv").unlink()
    with pytest.raises(Stopped):
        archive(folder, tmp_path / "out")
    with pytest.raises(Stopped, match="issued"):
        archive(survey, tmp_path / "out", issue=True)
    assert not (tmp_path / "out").exists()


def test_a_folder_that_is_not_an_archive_is_left_alone(survey: Path, tmp_path: Path) -> None:
    """A folder or zip file of the archive's name that sitegen did not write is refused."""
    (tmp_path / NAME).mkdir()
    (tmp_path / NAME / "thesis.txt").write_bytes(b"mine")
    (tmp_path / f"{NAME}.zip").write_bytes(b"not a zip")
    for zipped in (False, True):
        with pytest.raises(WrongUse):
            archive(survey, tmp_path, zipped=zipped)
    assert (tmp_path / NAME / "thesis.txt").read_bytes() == b"mine"
    with pytest.raises(WrongUse, match="inside the project"):
        archive(survey, survey / "records")


def test_the_command_ends_with_0_1_or_2(small: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Verify ends with 0 where all holds, 1 where something does not, 2 where nothing is there."""

    def run(path: Path) -> int:
        monkeypatch.setattr(sys, "argv", ["sitegen", "verify", str(path)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        return int(ended.value.code or 0)

    assert run(small) == 0
    (small / "data/a.txt").write_bytes(b"two\n")
    assert run(small) == 1
    (tmp_path / "broken.zip").write_bytes(b"PK nonsense")
    assert run(tmp_path / "broken.zip") == 1
    assert run(tmp_path / "nowhere") == 2


def test_a_manifest_is_what_the_shell_would_write(small: Path) -> None:
    """The lines of a manifest are those of sha256sum."""
    done = subprocess.run(["sha256sum", "data/a.txt", "data/deep/ö.txt"], cwd=small, capture_output=True, check=True)
    listed = {f"data/{name}": fixity for name, fixity in fixities_below(small / "data").items()}
    assert manifest_bytes(listed, "sha256") == done.stdout
