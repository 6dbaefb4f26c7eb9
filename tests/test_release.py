"""What is released: the two distributions hold what the tree holds, and say of themselves what is so.

They are built from a plain copy of the tree, in which there is no repository.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tarfile
from collections.abc import Iterator
from dataclasses import dataclass
from email import message_from_bytes
from email.message import Message
from fnmatch import fnmatch
from pathlib import Path
from zipfile import ZipFile

import pytest

from sitegen import __version__

ROOT = Path(__file__).resolve().parent.parent
WRITTEN = re.compile(r"PKG-INFO|setup\.cfg|sitegen\.egg-info/.*")
"""What a build adds to the source distribution."""


@dataclass(frozen=True)
class Release:
    """The files of both distributions by name, and what the wheel says of itself."""

    source: dict[str, bytes]
    wheel: dict[str, bytes]
    metadata: Message
    names: tuple[str, ...]


def git(*words: str) -> str:
    """Return what git says of the tree; nothing where there is no repository."""
    if not (ROOT / ".git").exists():
        return ""
    return subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=True).stdout


def tree() -> dict[str, bytes]:
    """Return the project's files by name: those that git holds or would take; without git, all but by-products."""
    listed = [name for name in git("ls-files", "-z", "--cached", "--others", "--exclude-standard").split("\0") if name]
    if not listed:
        byproducts = [line.strip("/") for line in (ROOT / ".gitignore").read_text("utf-8").splitlines()]
        paths = [path.relative_to(ROOT) for path in ROOT.rglob("*")]
        named = [p for p in paths if not any(fnmatch(part, one) for part in p.parts for one in byproducts)]
        listed = [path.as_posix() for path in named if not WRITTEN.fullmatch(path.as_posix())]
    return {name: (ROOT / name).read_bytes() for name in listed if (ROOT / name).is_file()}


@pytest.fixture(scope="module")
def release(tmp_path_factory: pytest.TempPathFactory) -> Release:
    """Build the source distribution from a copy of the tree, and the wheel from the source distribution."""
    copy, dist = tmp_path_factory.mktemp("copy"), tmp_path_factory.mktemp("dist")
    for name, content in tree().items():
        (copy / name).parent.mkdir(parents=True, exist_ok=True)
        (copy / name).write_bytes(content)
    command = [sys.executable, "-m", "build", "--no-isolation", "--outdir", str(dist), str(copy)]
    done = subprocess.run(command, cwd=dist, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    (source,), (wheel,) = dist.glob("*.tar.gz"), dist.glob("*.whl")
    return Release(*_contents(source, wheel), names=(source.name, wheel.name))


def _contents(source: Path, wheel: Path) -> tuple[dict[str, bytes], dict[str, bytes], Message]:
    with tarfile.open(source) as packed:
        files = {member.name.partition("/")[2]: packed.extractfile(member) for member in packed if member.isfile()}
        unpacked = {name: file.read() for name, file in files.items() if file}
    with ZipFile(wheel) as packed_wheel:
        held = {name: packed_wheel.read(name) for name in packed_wheel.namelist()}
    about = f"sitegen-{__version__}.dist-info/"
    metadata = message_from_bytes(held[f"{about}METADATA"])
    return unpacked, {name: content for name, content in held.items() if not name.startswith(about)}, metadata


def test_the_source_distribution_holds_the_whole_tree(release: Release) -> None:
    """Every file of the project is in it, byte for byte, and nothing that the build has not written."""
    assert {name: file for name, file in release.source.items() if not WRITTEN.fullmatch(name)} == tree()


def test_the_wheel_holds_every_module_and_file_of_the_program(release: Release) -> None:
    """Modules, templates, tables and the template folder are those of the tree, whatever folder they lie in."""
    files = tree()
    program = {name: file for name, file in files.items() if name.startswith("sitegen/")}
    template = {f"sitegen/{name}": file for name, file in files.items() if name.startswith("project_template/")}
    modules = {name for name in program if name.endswith(".py")}
    assert {name for name in release.wheel if name.endswith(".py")} == modules
    assert len(modules) > 100
    assert release.wheel == program | template


def test_version_and_name_are_the_tree_s(release: Release) -> None:
    """The version is the one that every report carries: three numbers, without a date or a state of the copy."""
    assert re.fullmatch(r"\d+\.\d+\.\d+", __version__)
    assert release.names == (f"sitegen-{__version__}.tar.gz", f"sitegen-{__version__}-py3-none-any.whl")
    assert release.metadata["Version"] == __version__


def test_the_long_description_shows_and_links_nothing_that_only_the_tree_has(release: Release) -> None:
    """Read apart from the tree, the README has no picture and no link into a folder."""
    described = release.metadata.get_payload()
    assert isinstance(described, str)
    assert "# sitegen" in described
    assert re.findall(r"!\[|<img|\]\((?!https?://|#)", described) == []


def newest_heading() -> str:
    """Return the first heading of the changelog below its title."""
    return re.findall(r"^## (.+)$", (ROOT / "CHANGELOG.md").read_text("utf-8"), flags=re.MULTILINE)[0]


def disagreements(tag: str, version: str, heading: str) -> Iterator[str]:
    """Yield what keeps a tag from being that of a release."""
    if tag != f"v{version}":
        yield f"the tag is {tag}, the version {version}"
    if not re.fullmatch(rf"{re.escape(version)}, \d{{4}}-\d\d-\d\d", heading):
        yield f"the changelog begins with {heading}, not with {version} and a day"


def test_the_changelog_begins_with_this_version() -> None:
    """The first heading is of the version in the tree, with the day of its release where it has one."""
    assert re.fullmatch(rf"{re.escape(__version__)}, (not yet released|\d{{4}}-\d\d-\d\d)", newest_heading())


@pytest.mark.parametrize(
    ("tag", "heading", "count"),
    [
        ("v1.2.3", "1.2.3, 2026-11-29", 0),
        ("v1.2.4", "1.2.3, 2026-11-29", 1),
        ("1.2.3", "1.2.3, 2026-11-29", 1),
        ("v1.2.3", "1.2.3, not yet released", 1),
        ("v1.3.0", "1.3.0, 2026-11-29", 2),
    ],
)
def test_a_tag_that_differs_is_told(tag: str, heading: str, count: int) -> None:
    """A tag of another version, and a changelog without the day, are each named."""
    assert len(list(disagreements(tag, "1.2.3", heading))) == count


@pytest.mark.skipif(shutil.which("git") is None, reason="without git there is no tag to hold to the version")
def test_a_tag_is_the_version_s() -> None:
    """Where the commit on show has a tag of a release, it is of the version in the tree."""
    tags = git("tag", "--points-at", "HEAD", "--list", "v*").split()
    if not tags:
        pytest.skip("the commit on show has no tag of a release")
    assert [told for tag in tags for told in disagreements(tag, __version__, newest_heading())] == []
