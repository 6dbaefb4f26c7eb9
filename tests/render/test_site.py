"""The built site: complete, sound, the same bytes everywhere, nothing from outside."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from sample_report import HOSTILE, sample_files, sample_report

from sitegen.figures import look
from sitegen.findings.problems import OutputFault
from sitegen.render.site.assets import class_inks, colour_css
from sitegen.render.site.linkcheck import check_links
from sitegen.render.site.site import write_site

BUILD = """
import sys
from pathlib import Path
from sample_report import HOSTILE, sample_files, sample_report
from sitegen.render.site.site import write_site
write_site(sample_report(HOSTILE), Path(sys.argv[1]), sample_files())
"""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the sample with hostile text everywhere, once."""
    out = tmp_path_factory.mktemp("site") / "out"
    write_site(sample_report(HOSTILE), out, sample_files())
    return out


def contents(out: Path) -> dict[str, bytes]:
    return {path.relative_to(out).as_posix(): path.read_bytes() for path in out.rglob("*") if path.is_file()}


def test_every_page_and_every_extra_file_is_written(site: Path) -> None:
    written = contents(site)
    assert {name: written[name] for name in sample_files()} == sample_files()
    pages = {name for name in written if name.endswith(".html") and name != "map/index.html"}
    assert len(pages) == len(sample_report().pages)
    assert {"index.html", "locations/SG-01.html", "compounds/pce.html", "samplers/S-0007.html"} <= pages


def test_links_and_anchors_resolve_and_nothing_comes_from_outside(site: Path) -> None:
    assert check_links(site) == []
    for path in site.rglob("*.html"):
        assert not re.search(r"""(?:src|href)=["'](?:https?:)?//""", path.read_text(encoding="utf-8"))


def test_no_text_of_the_project_becomes_markup(site: Path) -> None:
    for path in site.rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        assert "<script>alert" not in text
        assert text.count("<title>") == text.count("</title>") == 1
        assert "49" not in re.findall(r"<title>(.*?)</title>", text)[0]


def test_nothing_left_over_from_the_theme(site: Path) -> None:
    names = contents(site).keys()
    assert not [name for name in names if name.endswith((".map", ".gz", ".xml", ".md")) or "lunr/" in name]
    assert "404.html" not in names
    for path in site.rglob("*.html"):
        assert not re.search("generator|squidfunk|Made with", path.read_text(encoding="utf-8"))


def test_search_index_holds_every_page_in_order_and_escaped(site: Path) -> None:
    index = json.loads((site / "search/search_index.json").read_text(encoding="utf-8"))
    locations = [doc["location"] for doc in index["docs"]]
    assert locations[0] == "index.html"
    assert len(locations) == len(set(locations))
    assert "locations/SG-01.html" in locations
    assert not [doc for doc in index["docs"] if "<" in doc["title"] + doc["text"]]
    script = (site / "search/search_index.js").read_text(encoding="utf-8")
    assert script.startswith("var __index = {")


def test_two_builds_elsewhere_give_the_same_bytes(site: Path, tmp_path: Path) -> None:
    tests = str(Path(__file__).parent)
    root = str(Path(__file__).parents[2])
    for number, (zone, locale, seed) in enumerate(
        (("Pacific/Auckland", "C", "1"), ("America/Lima", "tr_TR.UTF-8", "77"))
    ):
        out = tmp_path / f"other place {number}" / "out"
        environment = os.environ | {
            "TZ": zone,
            "LC_ALL": locale,
            "PYTHONHASHSEED": seed,
            "PYTHONPATH": os.pathsep.join((tests, root)),
        }
        folder = tmp_path / f"run {number}"
        folder.mkdir()
        subprocess.run([sys.executable, "-c", BUILD, str(out)], check=True, env=environment, cwd=folder)
        assert contents(out) == contents(site)


def test_progress_counts_two_steps_a_page(tmp_path: Path) -> None:
    said: list[tuple[int, int]] = []
    write_site(sample_report(), tmp_path / "out", {}, lambda done, total: said.append((done, total)))
    total = 2 * len(sample_report().pages)
    assert said == [(done, total) for done in range(1, total + 1)]


def test_a_folder_with_something_in_it_is_refused(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputFault, match="not empty"):
        write_site(sample_report(), tmp_path, {})
    assert (tmp_path / "notes.txt").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("path", ["../up.txt", "ui/site.css", "Assets/x.js", "search/x.json", "index.html"])
def test_extra_files_can_not_leave_the_folder_or_replace_its_own(tmp_path: Path, path: str) -> None:
    with pytest.raises(OutputFault):
        write_site(sample_report(), tmp_path / "out", {path: b""})
    assert not (tmp_path / "out").exists()


def luminance(colour: str) -> float:
    """Return the relative luminance of a colour as WCAG 2.2 defines it."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21."""
    low, high = sorted((luminance(first), luminance(second)))
    return (high + 0.05) / (low + 0.05)


def test_text_on_class_colours_can_be_read() -> None:
    assert len(class_inks()) == len(look.CLASS_COLOURS)
    assert min(contrast(ink, colour) for colour, ink in class_inks()) >= 4.5
    assert look.CLASS_COLOURS[0].encode() in colour_css()


@pytest.mark.parametrize("colour", [look.ACCENT, look.INK, look.MUTED, look.WARN])
def test_text_colours_can_be_read_on_paper(colour: str) -> None:
    assert contrast(colour, look.PAPER) >= 4.5
