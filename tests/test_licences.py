"""The page on licences is whole: every package that is needed, and every part of others that a report holds.

What depends on a package's files is compared where the installed version is the locked one.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from email.message import Message
from fnmatch import fnmatch
from importlib.metadata import PackageNotFoundError, distribution
from importlib.resources import files
from pathlib import Path

import pikepdf
import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

import sitegen
from sitegen.archive.locked import locked
from sitegen.pipeline import Built
from sitegen.report.write.words import prose

ROOT = Path(__file__).resolve().parent.parent
PAGE = (ROOT / "docs/licences.md").read_text("utf-8")
GENERATED = ("ui/colours.css", "search/search_index.js", "photos/*")
"""Files of a site that are written for it or are the project's, in forms that files of others have as well."""

STATIC = {".js", ".css", ".png", ".ico", ".svg", ".woff", ".woff2", ".ttf", ".otf", ".wasm"}
IN_A_REPORT = ("mkdocs-material", "django-js-lib-leaflet", "folium", "branca", "typst", "matplotlib", "python-docx")
OPTIONAL = {"python-docx"}
OPTIONAL_FILES = ("downloads/narrative.docx", "map/index.html")
"""Where the page names a file that is not always there, or one that is ours but for some lines."""


def rows(heading: str) -> list[list[str]]:
    """Return the cells of the table below a heading, without its head."""
    section = PAGE.split(f"\n## {heading}\n")[1].split("\n## ")[0]
    lines = [line for line in section.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in line.strip("|").split(" | ")] for line in lines[2:]]


PARTS = rows("Parts of a report")
PACKAGES = {row[0]: row for row in rows("Packages")}


def is_as_locked(name: str) -> bool:
    """Say whether a package is installed in the version of the lock."""
    try:
        return distribution(name).version == locked()[name].version
    except PackageNotFoundError:
        return False


def stated(about: Message) -> str:
    """Return the licence that metadata state: an expression, else a line of text, else classifiers."""
    text = about.get("License", "").strip()
    if about.get("License-Expression"):
        return str(about["License-Expression"])
    if text and "\n" not in text and text != "UNKNOWN":
        return str(text)
    classifiers = (line.split(" :: ") for line in about.get_all("Classifier", []))
    return ", ".join(parts[-1] for parts in classifiers if parts[0] == "License")


def asked_for() -> Iterator[tuple[str, str]]:
    """Yield each locked package with the versions that pyproject.toml asks for, else with who needs it."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    own = {canonicalize_name(Requirement(line).name): line for line in project["dependencies"]}
    for name, package in locked().items():
        line = own.get(name)
        yield name, f"`{line.removeprefix(Requirement(line).name)}`" if line else f"by {', '.join(package.needed_by)}"


def test_every_package_has_a_row_and_no_other() -> None:
    """The packages are those of the lock, in its order, each with who asks for it."""
    assert [(row[0], row[1]) for row in PACKAGES.values()] == list(asked_for())
    assert all(len(row) == 5 and all(row) for row in PACKAGES.values())


@pytest.mark.parametrize("name", PACKAGES)
def test_the_licence_is_what_the_metadata_state(name: str) -> None:
    """In the words of the installed package."""
    if not is_as_locked(name):
        pytest.skip(f"{name} is not installed in the locked version")
    assert PACKAGES[name][2] == stated(distribution(name).metadata) != ""


def test_packages_with_a_part_in_a_report_say_so() -> None:
    """The last column and the table of parts name the same packages."""
    assert {part[2] for part in PARTS} == set(IN_A_REPORT)
    assert {name for name, row in PACKAGES.items() if row[4] != "nothing"} == {*IN_A_REPORT, "pyproj"}


def test_a_site_holds_no_file_of_others_that_is_not_named(built: Built) -> None:
    """Scripts, styles, pictures and fonts are our own, written for the site, or named on the page."""
    ours = {path.read_bytes() for path in Path(str(files(sitegen))).glob("templates/**/*") if path.is_file()}
    named = [glob for part in PARTS for glob in re.findall(r"`([^`]+/[^`]+)`", part[3])]
    site = built.out / "site"
    static = {p.relative_to(site).as_posix(): p for p in site.rglob("*") if p.suffix in STATIC and p.is_file()}
    others = {name for name, path in static.items() if path.read_bytes() not in ours}
    unnamed = {name for name in others if not any(fnmatch(name, glob) for glob in (*named, *GENERATED))}
    assert unnamed == set()
    assert [glob for glob in named if not any(fnmatch(name, glob) for name in (*others, *OPTIONAL_FILES))] == []


def test_every_font_in_the_pdf_is_named(built: Built) -> None:
    """The families are those of the page; so is the colour profile."""
    names = [part[0].replace(" ", "") for part in PARTS]
    with pikepdf.open(built.out / "site/downloads/report.pdf") as pdf:
        dictionaries = [one for one in pdf.objects if isinstance(one, pikepdf.Dictionary)]
        fonts = {str(one.FontName).partition("+")[2] for one in dictionaries if one.get("/Type") == "/FontDescriptor"}
        (intent,) = pdf.Root["/OutputIntents"]
        profile = intent.DestOutputProfile.read_bytes().decode("utf-16-be", "ignore")
        assert str(intent.Info).startswith("sRGB v4")
        assert "CC0" in profile
    assert [font for font in fonts if not font.startswith(tuple(names))] == []
    assert {font.partition("-")[0] for font in fonts} >= {"LibertinusSerif", "DejaVuSans"}


@pytest.mark.skipif(not is_as_locked("mkdocs-material"), reason="another version of the theme is installed")
def test_every_library_inside_the_theme_is_named() -> None:
    """The map of the theme's style sheet, all that is taken of it, tells from which packages it is put together."""
    assets = Path(str(files("material"))) / "templates/assets"
    maps = list(assets.glob("stylesheets/main.*.map"))
    assert len(maps) == 1
    inside = {
        name for path in maps for name in re.findall(r"node_modules/((?:@[^/]+/)?[^/]+)/", " ".join(sources(path)))
    }
    named = {part[0].casefold().removesuffix(".js") for part in PARTS}
    assert sorted(inside - named) == []


def sources(path: Path) -> list[str]:
    """Return the files that a script or style sheet is put together from."""
    told: list[str] = json.loads(path.read_text("utf-8"))["sources"]
    return told


@pytest.mark.skipif(not is_as_locked("mkdocs-material"), reason="another version of the theme is installed")
def test_every_set_of_icons_in_the_theme_s_style_sheet_is_named() -> None:
    """Each drawing in the style sheet is one of the sets that the theme brings, and each of these sets is named."""
    templates = Path(str(files("material"))) / "templates"
    (sheet,) = templates.glob("assets/stylesheets/main.*.min.css")
    drawings = set(re.findall(r"<path d='([^']+)'", sheet.read_text("utf-8")))
    names = {"material": "Material Design Icons", "octicons": "Octicons", "fontawesome": "Font Awesome Free"}
    of_set = {
        name: {drawing for path in (templates / ".icons" / folder).rglob("*.svg") for drawing in drawn(path)} & drawings
        for folder, name in names.items()
    }
    assert set().union(*of_set.values()) == drawings
    assert {name for name, drawn_so in of_set.items() if drawn_so} <= {part[0] for part in PARTS}


def drawn(path: Path) -> list[str]:
    """Return the paths that a picture draws."""
    return re.findall(r' d="([^"]+)"', path.read_text("utf-8"))


def test_a_report_names_its_parts_with_their_licences(built: Built) -> None:
    """The page on input files names each part of the table; the copy for comments only where there is one."""
    told = re.sub(r"<[^>]+>", "", (built.out / "site/files.html").read_text("utf-8"))
    sentence = told.split("Third-party parts of this site:")[1].split("\n")[0]
    assert {part[0] for part in PARTS if part[0] not in sentence} == OPTIONAL
    assert {part[1] for part in PARTS if part[1] not in sentence} == set()


def test_a_copy_for_comments_adds_its_template_to_the_parts() -> None:
    """With it, the page names every part of the table."""
    told = prose("review.files_how", tool="", zones="", stylesheet="", comment_copy=True)
    assert [part[0] for part in PARTS if part[0] not in str(told)] == []
