"""A previous revision as a zip file that anybody may have made: a sentence for each way in which it is not sound."""

from __future__ import annotations

import random
import resource
import struct
import subprocess
import sys
import warnings
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from sitegen.checking import check, compare
from sitegen.findings.problems import WrongUse
from sitegen.project import limits
from sitegen.project.limits import Bound
from sitegen.project.packed import UNREADABLE, opened_pack
from sitegen.project.revisions import IN_ARCHIVE, open_revision
from sitegen.render.place.bag import zip_bag

SETTINGS = "bag/data/project/project.toml"
RESULTS = "bag/data/project/lab/results.csv"
INFO = "bag/bag-info.txt"
LOCAL_SIZE, CENTRAL_SIZE = 22, 24
"""Where a local header and the list of files tell a member's size (APPNOTE 4.3.7 and 4.3.12)."""


def packed_project(path: Path, method: int = zipfile.ZIP_DEFLATED, **more: bytes) -> Path:
    """Write a zip file that holds a project as an archive does; ``more`` gives or replaces members."""
    members = {SETTINGS: b"[project]\n" * 50, RESULTS: b"a,b\n1,2\n" * 50, INFO: b"Bag-Software-Agent: sitegen 0\n"}
    with zipfile.ZipFile(path, "w", method) as pack:
        for name, content in (members | more).items():
            pack.writestr(name, content)
    return path


def refused(path: Path) -> str:
    """Return what is said of a zip file that is refused."""
    with pytest.raises(WrongUse) as told:
        open_revision(path)
    assert str(path) in str(told.value)
    return str(told.value)


def patched(path: Path, name: str, edit: Callable[[bytearray, int, int], None]) -> Path:
    """Edit the bytes of a zip file, given where the member's local and central headers begin."""
    content = bytearray(path.read_bytes())
    with zipfile.ZipFile(path) as pack:
        local = pack.getinfo(name).header_offset
    central = content.index(b"PK\x01\x02")
    while content[central + 46 : central + 46 + len(name)] != name.encode():
        central = content.index(b"PK\x01\x02", central + 4)
    edit(content, local, central)
    path.write_bytes(bytes(content))
    return path


def test_a_sound_one_is_read(tmp_path: Path) -> None:
    """Settings and table are read, and so is the tool that wrote the archive."""
    opened = open_revision(packed_project(tmp_path / "a.zip"))
    assert sorted(opened.folder.files) == ["lab/results.csv", "project.toml"]
    assert opened.tool == "sitegen 0"


def test_damaged_deflate_is_told_with_its_member(tmp_path: Path) -> None:
    """A deflated stream that is none names file and member."""

    def spoil(content: bytearray, local: int, _: int) -> None:
        start = local + 30 + len(RESULTS)
        content[start : start + 6] = b"\xff" * 6

    assert "'bag/data/project/lab/results.csv' in the zip file can't be read" in refused(
        patched(packed_project(tmp_path / "a.zip"), RESULTS, spoil)
    )


def test_flipped_bytes_never_end_in_a_trace(tmp_path: Path) -> None:
    """With any byte changed, the file is read as it was or refused in a sentence."""
    whole = packed_project(tmp_path / "whole.zip").read_bytes()
    rng, refusals = random.Random(7), 0  # noqa: S311 - the same damage every time
    for number in range(400):
        content = bytearray(whole)
        content[rng.randrange(len(content))] ^= 1 << rng.randrange(8)
        path = tmp_path / f"{number}.zip"
        path.write_bytes(content)
        try:
            open_revision(path)
        except WrongUse as error:
            refusals += str(path) in str(error)
    assert refusals > 50


def test_a_member_beyond_the_bound_is_refused(tmp_path: Path) -> None:
    """Zeros that deflate to next to nothing are counted as they unpack."""
    path = packed_project(tmp_path / "a.zip", **{RESULTS: bytes(limits.MEMBER_BYTES.value + 1)})
    assert path.stat().st_size < 100_000
    assert "unpacks to more than 67,108,864 bytes" in refused(path)


def test_a_size_in_a_header_is_not_believed(tmp_path: Path) -> None:
    """A member that is told as small and unpacks to more is refused, and so is one told as larger."""
    for told in (3, 1 << 31):

        def lie(content: bytearray, local: int, central: int, told: int = told) -> None:
            for at in (local + LOCAL_SIZE, central + CENTRAL_SIZE):
                content[at : at + 4] = struct.pack("<I", told)

        assert RESULTS in refused(patched(packed_project(tmp_path / "a.zip"), RESULTS, lie))


def test_a_size_of_64_bits_is_not_believed(tmp_path: Path) -> None:
    """A zip64 field that tells of 2**60 bytes asks for no memory."""
    content = bytearray(packed_project(tmp_path / "a.zip").read_bytes())
    end = content.rindex(b"PK\x05\x06")
    extra = struct.pack("<4sQ2H2L4Q", b"PK\x06\x06", 44, 45, 45, 0, 0, 3, 3, 1 << 60, 0)
    locator = struct.pack("<4sLQL", b"PK\x06\x07", 0, end, 1)
    content[end + 8 : end + 20] = b"\xff" * 12
    (tmp_path / "a.zip").write_bytes(bytes(content[:end] + extra + locator + content[end:]))
    assert "can't be read as a zip file" in refused(tmp_path / "a.zip")


def test_all_files_together_are_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Members that are each small enough are refused where their sum is not."""
    monkeypatch.setattr(limits, "TOTAL_BYTES", Bound("zip_total", 3_000, "bytes in all", ""))
    many = {f"bag/data/project/records/{number}.txt": bytes(1_000) for number in range(4)}
    assert "those before it unpack to more than 3,000 bytes" in refused(packed_project(tmp_path / "a.zip", **many))


def test_an_endless_label_file_is_refused(tmp_path: Path) -> None:
    """Of bag-info.txt no more than a megabyte is read, in a zip file and in a folder."""
    path = packed_project(tmp_path / "a.zip", **{INFO: bytes(limits.INFO_BYTES.value + 1)})
    assert "'bag/bag-info.txt' in the zip file unpacks to more than 1,048,576 bytes" in refused(path)
    inside = tmp_path / "bag" / IN_ARCHIVE
    inside.mkdir(parents=True)
    (inside / "project.toml").write_text("")
    (tmp_path / "bag/bag-info.txt").write_bytes(bytes(limits.INFO_BYTES.value + 1))
    assert "bag-info.txt is larger than 1,048,576 bytes" in refused(tmp_path / "bag")


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("/etc/passwd", "not relative"),
        ("bag/../../etc/passwd", "leads out"),
        ("C:/bag/x", "drive letter"),
        ("bag\\x", "backslash"),
        ("bag/data/project/lab/RESULTS.csv", "letter case"),
        ("bag/data/project/LAB/other.csv", "letter case"),
    ],
)
def test_unsafe_names_are_refused(tmp_path: Path, name: str, said: str) -> None:
    """A name that leads out, or that some system takes for another, is named in the refusal."""
    assert said in refused(packed_project(tmp_path / "a.zip", **{name: b"x"}))


def test_a_member_that_is_there_twice_is_refused(tmp_path: Path) -> None:
    """Of two members of one name nobody knows which is meant."""
    path = packed_project(tmp_path / "a.zip")
    with warnings.catch_warnings(), zipfile.ZipFile(path, "a") as pack:
        warnings.simplefilter("ignore", UserWarning)
        pack.writestr(RESULTS, b"other")
    assert f"{RESULTS!a} in the zip file occurs 2 times" in refused(path)


def test_encrypted_and_other_methods_are_refused(tmp_path: Path) -> None:
    """A password and a method that may ask for gigabytes are told as what they are."""

    def encrypt(content: bytearray, local: int, central: int) -> None:
        content[local + 6] |= 1
        content[central + 8] |= 1

    assert "is encrypted" in refused(patched(packed_project(tmp_path / "a.zip"), RESULTS, encrypt))
    for method in (zipfile.ZIP_LZMA, zipfile.ZIP_BZIP2):
        assert f"packed by method {method}" in refused(packed_project(tmp_path / "b.zip", method))


def test_a_list_of_files_beyond_the_bound_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The list of files is measured before it is read."""
    monkeypatch.setattr(limits, "INDEX_BYTES", Bound("zip_index", 100, "bytes", ""))
    assert "list of files is larger than 100 bytes" in refused(packed_project(tmp_path / "a.zip"))


def test_names_beside_the_project_are_read_by_nobody(tmp_path: Path) -> None:
    """What does not belong to a project is left in the zip file, however large it is."""
    huge = {"bag/data/site/film.bin": bytes(limits.MEMBER_BYTES.value + 1)}
    assert len(open_revision(packed_project(tmp_path / "a.zip", **huge)).folder.files) == 2


def test_what_is_unreadable_is_not_hidden(tmp_path: Path) -> None:
    """An error of who reads a pack is not taken for one of the pack."""
    path = packed_project(tmp_path / "a.zip")
    for kind in (ValueError, RuntimeError):
        assert issubclass(kind, UNREADABLE)
        with pytest.raises(kind, match="own"), opened_pack(path):
            raise kind("own")


def test_years_beyond_a_zip_file_are_brought_to_its_ends(tmp_path: Path) -> None:
    """A bag of a year that a zip file can't tell is packed under the nearest that it can."""
    (tmp_path / "bag").mkdir()
    (tmp_path / "bag/a.txt").write_bytes(b"a")
    for day, year in ((date(1, 1, 1), 1980), (date(2026, 5, 4), 2026), (date(9999, 12, 31), 2107)):
        zip_bag(tmp_path / "bag", tmp_path / "bag.zip", day, "bag")
        with zipfile.ZipFile(tmp_path / "bag.zip") as pack:
            assert pack.infolist()[0].date_time[:3] == (year, day.month, day.day)


def test_a_damaged_previous_revision_is_wrong_use_where_it_is_named(example: Path, tmp_path: Path) -> None:
    """A comparison refuses it; a check refuses it where the command names it, and tells it where the settings do."""
    bad = tmp_path / "bad.zip"
    bad.write_bytes(b"PK\x03\x04 no zip")
    with pytest.raises(WrongUse, match=r"bad\.zip can't be read as a zip file"):
        compare(bad, example)
    assert not [f for f in check(example, previous=bad).findings if f.code == "previous-unreadable"]


@pytest.mark.long
@pytest.mark.skipif(sys.platform == "win32", reason="limits of a process are told otherwise there")
def test_a_bomb_costs_no_memory(tmp_path: Path) -> None:
    """Six members of 500 MB of zeros are refused by a process that may take a gigabyte."""
    path = tmp_path / "bomb.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as pack:
        pack.writestr(SETTINGS, b"")
        for number in range(6):
            with pack.open(f"bag/data/project/records/{number}.bin", "w", force_zip64=True) as member:
                for _ in range(500):
                    member.write(bytes(1 << 20))
    command = [sys.executable, "-m", "sitegen", "compare", str(path), str(path)]
    bound = 1 << 30
    run = subprocess.run(
        command, capture_output=True, text=True, check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (bound, bound)),
    )  # fmt: skip
    assert run.returncode == 2
    assert "'bag/data/project/records/0.bin' in the zip file unpacks to more than 67,108,864 bytes" in run.stderr
