"""Bags that other programs made are valid by RFC 8493, or refused for the reason that makes them invalid."""

from __future__ import annotations

import logging
import random
import shutil
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import bagit
import pytest
from bag_cases import FETCHED, INVALID_BAGS, PAYLOAD, TAGGED, VALID_BAGS, Case, Files, bag, encoded, line, oxum, without

from sitegen import cli
from sitegen.archive.verify import Verdict, verify
from sitegen.project import limits
from sitegen.project.limits import Bound

VALID = "valid BagIt, not an archive of this program: fixity only"


def write(files: Files, root: Path) -> Path:
    for name, content in files.items():
        path = root / name
        if name.endswith("/"):
            path.mkdir(parents=True, exist_ok=True)
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return root


def pack(files: Files, path: Path, top: str) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as target:
        for name, content in files.items():
            target.writestr(f"{top}{name}", content)
    return path


@pytest.fixture(params=["folder", "zip", "zip without a top folder"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Callable[[Files], Path]:
    """Return what writes a bag as a folder, as a zip file of one, or as a zip file of its files."""
    if request.param == "folder":
        return lambda files: write(files, tmp_path / "other")
    return lambda files: pack(files, tmp_path / "other.zip", "other/" if request.param == "zip" else "")


def by_name(case: Case) -> str:
    return case.name


def told(verdict: Verdict) -> str:
    return "\n".join(verdict.lines())


@pytest.mark.parametrize("case", VALID_BAGS, ids=by_name)
def test_a_valid_bag_of_another_program_is_told_as_such(case: Case, place: Callable[[Files], Path]) -> None:
    """A valid bag holds, is said to be no archive of ours, and what is to be known of it is a note."""
    verdict = verify(place(case.files))
    assert verdict.faults == ()
    assert verdict.holds
    assert VALID in told(verdict)
    assert [words for words in case.said if words not in told(verdict)] == []


@pytest.mark.parametrize("case", INVALID_BAGS, ids=by_name)
def test_an_invalid_bag_is_refused_for_its_own_reason(case: Case, place: Callable[[Files], Path]) -> None:
    """What makes a bag invalid is named, it alone, and the bag is not called valid."""
    verdict = verify(place(case.files))
    assert not verdict.holds
    assert "valid BagIt" not in told(verdict)
    assert [words for words in case.said if words not in told(verdict)] == []
    assert len(verdict.faults) <= max(len(case.said), 2), verdict.faults


def accepts(root: Path) -> bool:
    """Return whether the reference library finds a bag valid; a crash is no yes."""
    logging.disable(logging.CRITICAL)
    try:
        return bool(bagit.Bag(str(root)).is_valid(processes=1))
    except (bagit.BagError, ValueError):
        return False
    finally:
        logging.disable(logging.NOTSET)


@pytest.mark.parametrize(("case", "valid"), [
    *(pytest.param(case, True, id=case.name) for case in VALID_BAGS),
    *(pytest.param(case, False, id=f"not {case.name}") for case in INVALID_BAGS),
])  # fmt: skip
def test_the_reference_library_agrees_or_the_case_says_why_not(case: Case, valid: bool, tmp_path: Path) -> None:
    """Each verdict is the library's, but for those whose case gives the reason."""
    agrees = accepts(write(case.files, tmp_path / "other")) is valid
    raises = case.library.startswith("it raises")
    assert agrees is (raises or not case.library)


def test_an_archive_of_ours_is_never_taken_for_another_programs(tmp_path: Path) -> None:
    """Where one of its marks is left, a list that is missing or written anew makes an archive of ours fail."""
    agent = bag(tags={"bag-info.txt": b"Bag-Software-Agent: sitegen 0.1.0\n"}, tags_by=("sha256",))
    record = bag({"data/provenance.json": b'{"prefix": {"this": "urn:sitegen:archive:"}}'}, tags_by=("sha256",))
    for number, files in enumerate((agent, record)):
        verdict = verify(write(files, tmp_path / str(number)))
        assert {fault.path for fault in verdict.faults} >= {"manifest-sha512.txt", "tagmanifest-sha512.txt"}
        assert "valid BagIt" not in told(verdict)


def test_the_command_ends_with_0_or_1(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Verify ends with 0 for a valid bag of another program, with 1 for an invalid one and for what is no bag."""

    def run(path: Path) -> int:
        monkeypatch.setattr(sys, "argv", ["sitegen", "verify", str(path)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        return int(ended.value.code or 0)

    assert run(write(bag(), tmp_path / "valid")) == 0
    assert run(write(INVALID_BAGS[0].files, tmp_path / "invalid")) == 1
    assert run(write({"letter.txt": b"x"}, tmp_path / "no bag")) == 1


def test_a_name_can_t_write_a_line_of_the_verdict(tmp_path: Path) -> None:
    """A line end in a file's name does not begin a line: neither of a fault nor of a note."""
    forged = {f"data/x\n{VALID}": b"1"}
    for place, files in (("fault", bag() | forged), ("note", bag(forged, names=encoded))):
        lines = verify(write(files, tmp_path / place)).lines()
        assert sum(text.startswith("valid BagIt") for text in lines) == (place == "note"), lines


def test_a_path_of_any_length_is_quoted_in_part(tmp_path: Path) -> None:
    """A manifest may name a path of megabytes, which no line of the verdict repeats."""
    long = bag() | {"manifest-sha256.txt": line(f"data/{'x' * 100_000}")}
    assert max(map(len, verify(write(long, tmp_path / "other")).lines())) < 3_000


@pytest.mark.parametrize("name", [name for name in TAGGED if not name.startswith("tagmanifest-")])
def test_a_flipped_bit_is_never_valid(tmp_path: Path, name: str) -> None:
    """One bit of each byte of a file, where tag manifests prove the tag files, is found; none makes the check fail."""
    path = write(TAGGED, tmp_path / "other") / name
    rng = random.Random(name)  # noqa: S311 - places, no secrets
    for at in range(len(TAGGED[name])):
        flipped = bytearray(TAGGED[name])
        flipped[at] ^= 1 << rng.randrange(8)
        path.write_bytes(flipped)
        assert not verify(tmp_path / "other").holds, (at, bytes(flipped))


def test_a_flipped_byte_of_a_zip_never_hides_a_change(tmp_path: Path) -> None:
    """Whatever byte of a zip file changes: where the bag in it is called valid, its payload is what it was."""
    path = pack(TAGGED, tmp_path / "other.zip", "other/")
    whole, rng = path.read_bytes(), random.Random(5)  # noqa: S311
    for at in rng.sample(range(len(whole)), 300):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ (1 + rng.randrange(255))]) + whole[at + 1 :])
        if verify(path).holds:
            with zipfile.ZipFile(path) as opened:
                kept = {name: opened.read(f"other/{name}") for name in PAYLOAD}
            assert kept == PAYLOAD, at


def test_links_in_another_programs_bag_are_refused_unread(tmp_path: Path) -> None:
    """A link in the payload may lead anywhere, so it is refused though its content would fit."""
    root = write(without(bag(), "data/a.txt"), tmp_path / "other")
    (tmp_path / "one.txt").write_bytes(b"one\n")
    (root / "data/a.txt").symlink_to(tmp_path / "one.txt")
    assert [(fault.path, fault.said) for fault in verify(root).faults] == [("data/a.txt", "it is a link")]


@pytest.mark.parametrize("name", ["../a.txt", "/a.txt", "other/data/../../x", "other/data//a.txt", "~/x", "C:/x"])
def test_a_zip_with_a_name_that_leads_astray_is_refused(tmp_path: Path, name: str) -> None:
    """No member may lie outside the bag, even one that no manifest lists."""
    path = pack(bag(), tmp_path / "other.zip", "other/")
    with zipfile.ZipFile(path, "a") as opened:
        opened.writestr(name, b"x")
    assert "path" in {fault.kind for fault in verify(path).faults}


def test_a_zip_of_two_bags_is_refused(tmp_path: Path) -> None:
    """Which of two folders is the bag can't be told."""
    path = pack(bag(), tmp_path / "other.zip", "one/")
    with zipfile.ZipFile(path, "a") as opened:
        for name, content in bag().items():
            opened.writestr(f"two/{name}", content)
    assert "neither bagit.txt nor one folder alone" in told(verify(path))


def test_a_member_packed_by_a_costly_method_is_refused(tmp_path: Path) -> None:
    """LZMA and bzip2 let a few bytes ask for much memory: said by name, with what to do."""
    path = tmp_path / "other.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_LZMA) as target:
        for name, content in bag().items():
            target.writestr(f"other/{name}", content)
    assert "it is packed by method 14; pack it again (deflate)" in told(verify(path))


BOMB = bag({"data/zeros": bytes(3 << 20)})


@pytest.mark.parametrize(("bound", "most", "said"), [
    ("BAG_MEMBER_BYTES", 2 << 20, "data/zeros: it can't be read (it unpacks to more than 2,097,152 bytes)"),
    ("BAG_BYTES", 2 << 20, "data/zeros and the files before it unpack to more than 2,097,152 bytes"),
    ("INDEX_BYTES", 100, "it can't be read as a zip file (its list of files is larger than 100 bytes)"),
])  # fmt: skip
def test_a_zip_that_unpacks_to_too_much_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, bound: str, most: int, said: str
) -> None:
    """Bytes are counted as they come, whatever the header says, and reading ends at the bound."""
    path = pack(BOMB, tmp_path / "other.zip", "other/")
    assert verify(path).holds
    monkeypatch.setattr(limits, bound, Bound("", most, "bytes", ""))
    assert said in told(verify(path))


def test_a_zip_of_just_as_much_as_is_read_is_valid(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A manifest is read as a list and again for its digest, and counts once."""
    most = sum(map(len, TAGGED.values()))
    monkeypatch.setattr(limits, "BAG_BYTES", Bound("", most, "bytes", ""))
    assert verify(pack(TAGGED, tmp_path / "other.zip", "other/")).holds
    monkeypatch.setattr(limits, "BAG_BYTES", Bound("", most // 2, "bytes", ""))
    assert not verify(tmp_path / "other.zip").holds


def test_a_top_folder_called_data_is_not_the_payload(tmp_path: Path) -> None:
    """A zip file may hold the bag in a folder of any name."""
    assert verify(pack(bag(), tmp_path / "valid.zip", "data/")).holds
    empty = pack(without(bag({}), "data/"), tmp_path / "invalid.zip", "data/")
    assert [(fault.path, fault.said) for fault in verify(empty).faults] == [("data/", "the folder of the payload")]


def test_a_header_that_belittles_a_member_is_not_believed(tmp_path: Path) -> None:
    """A member that unpacks to more than its header says is damaged."""
    path = pack(BOMB, tmp_path / "other.zip", "other/")
    size = (3 << 20).to_bytes(4, "little")
    path.write_bytes(path.read_bytes().replace(size, (5).to_bytes(4, "little")))
    assert "data/zeros: it can't be read (" in told(verify(path))


@pytest.mark.parametrize(("name", "bound", "most", "said"), [
    ("bagit.txt", "INFO_BYTES", 20, "bagit.txt: it is larger than 20 bytes"),
    ("bag-info.txt", "INFO_BYTES", 70, "bag-info.txt: it is larger than 70 bytes"),
    ("manifest-sha256.txt", "LIST_BYTES", 100, "manifest-sha256.txt: it is larger than 100 bytes"),
    ("fetch.txt", "LIST_BYTES", 200, "fetch.txt: it is larger than 200 bytes"),
    ("manifest-sha256.txt", "LIST_LINES", 1, "manifest-sha256.txt: it and the lists before it have more than 1 lines"),
])  # fmt: skip
def test_a_tag_file_beyond_its_bound_is_not_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, bound: str, most: int, said: str
) -> None:
    """Each tag file that is held in memory has a bound, in a folder as in a zip file."""
    files = bag(tags=oxum("8.2 ".ljust(60)) | {"fetch.txt": FETCHED * 6})
    assert verify(write(files, tmp_path / "other")).holds, name
    monkeypatch.setattr(limits, bound, Bound("", most, "lines", ""))
    assert said in told(verify(tmp_path / "other"))


def test_the_library_s_own_bags_are_valid(tmp_path: Path) -> None:
    """A bag that the reference library makes, with tag manifests for two algorithms, is valid."""
    root = write({"a.txt": b"one\n", "deep/grün.txt": b"two\n"}, tmp_path / "other")
    bagit.make_bag(str(root), {"Contact-Name": "FS-1"}, checksums=["sha256", "sha512"])
    verdict = verify(root)
    assert (verdict.faults, verdict.notes, verdict.other) == ((), (), "BagIt 0.97, sha256 and sha512")


def test_a_bag_is_read_alike_wherever_it_lies(tmp_path: Path) -> None:
    """Neither the bag nor the folder beside it is changed by a check."""
    root = write(TAGGED, tmp_path / "other")
    state = {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*")}
    shutil.copytree(root, tmp_path.parent / f"{tmp_path.name}-copy")
    assert told(verify(root)) == told(verify(tmp_path.parent / f"{tmp_path.name}-copy"))
    assert {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*")} == state
