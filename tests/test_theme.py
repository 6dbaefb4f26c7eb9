"""A project's own look: what it may change, what it may not, and that nothing of it is trusted."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from time import process_time

import pytest
from builders import Change, changed, content, load, new_findings, setting, settings_added, write
from PIL import Image

from sitegen.checking import check_snapshot
from sitegen.pipeline import build, compose
from sitegen.project.read.styles import style_faults
from sitegen.render.print.pdf import print_sources
from sitegen.render.site.html import finished_pages

PAGE = "theme/about-us.md"
WORDS = b"# About this office\n\nInvented **people**. <script>alert(1)</script> [x](https://example.test/a)\n"
CSS = b"/* ours */ :root { --accent: #7a1f3d; }\n@media (max-width: 600px) { h1 { color: var(--accent); } }\n"


def picture(width: int = 60, height: int = 20, kind: str = "PNG") -> bytes:
    """Return a picture, its left half clear where the kind allows it."""
    exif = Image.Exif()
    exif[0x010F] = "PlantedCamera77"
    image = Image.new("RGBA", (width, height), (0, 0, 0, 0))
    image.paste((122, 31, 61, 255), (width // 2, 0, width, height))
    made = BytesIO()
    (image if kind == "PNG" else image.convert("RGB")).save(made, kind, exif=exif)
    return made.getvalue()


LOGO = picture()


def themed(logo: bytes = LOGO, css: bytes = CSS, words: bytes = WORDS, alt: str = "Invented Office") -> list[Change]:
    """Return the changes that give the example a look of its own."""
    settings = (
        f'[theme]\nlogo = "theme/logo.png"\nlogo_alt = "{alt}"\nstylesheet = "theme/look.css"\npages = ["{PAGE}"]\n'
    )
    files = {"theme/logo.png": logo, "theme/look.css": css, PAGE: words}
    return [settings_added(settings), *(content(path, new) for path, new in files.items())]


def told(*changes: Change) -> list[tuple[str, str, int | None]]:
    """Return code, file and row of what a change newly tells about the look."""
    found = new_findings(changed(*changes))
    return [(f.code, f.where.file, f.where.row) for f in found if f.code.startswith(("theme", "setting", "file"))]


def test_a_sound_look_is_told_nothing_about() -> None:
    """Logo, stylesheet and page of the right kind raise no finding."""
    assert told(*themed()) == []


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        (themed(logo=b"<svg xmlns='http://www.w3.org/2000/svg'/>"), ("theme-logo", "theme/logo.png", None)),
        (themed(logo=picture(2001, 10)), ("theme-logo", "theme/logo.png", None)),
        (themed(logo=picture()[:60]), ("theme-logo", "theme/logo.png", None)),
        (themed(alt=" "), ("theme-logo", "project.toml", None)),
        (themed(css=b"h1 { color: red }\n.bar { background: url(a.png) }"), ("theme-style", "theme/look.css", 2)),
        (themed(css=b"h1 { color: red }\xff"), ("theme-style", "theme/look.css", None)),
        (themed(css=b" " * 100_001), ("theme-style", "theme/look.css", None)),
        (themed(words=b"No title.\n"), ("theme-page", PAGE, 1)),
        (themed(words=b"# {{ max.pce }}\n"), ("theme-page", PAGE, 1)),
        ([settings_added(f'[theme]\npages = ["{PAGE}"]\n')], ("theme-missing", "project.toml", None)),
        ([*themed(), setting(f'["{PAGE}"]', f'["{PAGE}", "{PAGE}"]')], ("theme-missing", "project.toml", None)),
        ([content("theme/other.css", b"")], ("file-unknown", "theme/other.css", None)),
    ],
    ids=lambda value: value[0] if isinstance(value, tuple) else "",
)
def test_what_is_wrong_with_a_look_is_told_where_it_stands(
    changes: list[Change], expected: tuple[str, str, int | None]
) -> None:
    """Each fault is one finding at its file and line."""
    assert told(*changes) == [expected]


@pytest.mark.parametrize("path", ["../logo.png", "theme/../private/a.png", "theme/logo.svg", "private/logo.png"])
def test_a_logo_outside_the_folder_of_the_look_is_a_stop(path: str) -> None:
    """A path that leads elsewhere, or a drawing that could hold a script, is refused with the expected form."""
    folder = changed(settings_added(f'[theme]\nlogo = "{path}"\nlogo_alt = "x"\n'))
    (finding,) = [f for f in check_snapshot(folder).findings if f.code == "setting-invalid"]
    assert finding.where.column == "theme.logo"
    assert "theme/logo.png" in finding.expected


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("@import 'https://example.test/a.css';", "@import"),
        ("@font-face { font-family: x; src: local(a) }", "@font-face"),
        (".a { background: URL( 'x' ) }", "URL("),
        (".a { background: image-set('https://example.test/a.png' 1x) }", "image-set("),
        (r".a { background: u\72l(x) }", "\\"),
        (r".a { font-family: 'a\'; b' }", "\\"),
        (".strip { display: none }", "display"),
        (".strip { visibility/**/: hidden }", "visibility"),
        (".a::before { content: 'Sealed' }", "content"),
        (".a { --x: 1; position: fixed; color: red }", "position"),
        ("@media print { .a { height: 0 } }", "height"),
        ("</style><script>", "</"),
        ("color: red;", "color"),
        (".a { color: red; } } .b { opacity: 0 }", "opacity"),
        ("/* never closed .a { } ", ""),
        (".a { & .b { transform: none } }", "transform"),
        (".a { color: red", ""),
    ],
)
def test_a_stylesheet_may_only_dress(text: str, words: str) -> None:
    """Whatever loads, hides, moves or writes is named; comments and unclosed blocks hide nothing."""
    assert words in [fault.words for fault in style_faults(text)] or (not words and not list(style_faults(text)))


def test_the_line_of_a_fault_counts_comments_and_texts() -> None:
    """A comment over several lines, and blank lines before a rule, do not shift the line."""
    faults = list(style_faults("/* a\nb { c: url(x) }\n*/\n\n.a {\n\n  width: 1px;\n}"))
    assert faults == [(7, "width")]


def test_long_stylesheets_are_read_in_linear_time() -> None:
    """Twice the input costs less than four times the steps of the pattern, whatever is repeated."""

    def seconds(unit: str, times: int) -> float:
        start = process_time()
        for _ in style_faults(unit * times):
            pass
        return process_time() - start

    for unit in ("/*", "'", "a(", "{", "}", ";", ".a{color:red}", "\\", "/* */ "):
        assert seconds(unit, 40_000) < 4 * seconds(unit, 20_000) + 0.2


def test_a_page_of_the_project_stands_on_the_site_and_is_escaped() -> None:
    """It is in the navigation, its script is text, its outside link is words, and it is not part of print."""
    _, report, _ = compose(check_snapshot(changed(*themed())))
    page = next(page for page in finished_pages(report, []) if page.url == "own-about-us.html")
    assert "<h1>About this office</h1>" in page.article
    assert "&lt;script&gt;" in page.article
    assert "<script" not in page.article
    assert 'https://example.test/a"' not in page.article
    assert 'href="own-about-us.html"' in page.navigation
    assert all("About this office" not in chapter.title for chapter in report.chapters)
    assert b"About this office" not in print_sources(report, {}).files["data.json"]


def test_words_of_a_logo_are_escaped() -> None:
    """What stands for the logo can't close its attribute."""
    _, report, _ = compose(check_snapshot(changed(*themed(alt='\\"><script>x</script>'))))
    logo = next(finished_pages(report, [])).logo
    assert "<script" not in logo
    assert logo.startswith('<img class="logo" src="theme/logo.png" alt="&#34;&gt;')


def test_the_rules_of_the_narrative_hold_for_a_page_of_the_project() -> None:
    """A typed number, an unknown token and a private word are told at its line."""
    words = WORDS + b"\nIt was 5 ng at most, {{ max.nothing }}, says 555-0142.\n"
    found = {(f.code, f.where.file, f.where.row) for f in new_findings(changed(*themed(words=words)))}
    assert {(code, PAGE, 5) for code in ("number-typed", "token-unknown", "personal-data")} <= found


def test_files_of_the_look_are_signed_with_the_record() -> None:
    """The content digest covers them."""
    assert load(changed(*themed())).digest != load(changed(*themed(css=CSS + b"\n"))).digest


@pytest.mark.long
def test_a_report_in_its_own_look_is_built(tmp_path: Path) -> None:
    """Logo, stylesheet and page are on the site, the logo on the cover; camera data are gone where withheld."""
    folder = write(changed(*themed(), setting("withhold = []", 'withhold = ["photo_metadata"]')), tmp_path / "p")
    built = build(folder, tmp_path / "out")
    site = built.out / "site"
    start = (site / "index.html").read_text("utf-8")
    assert '<link rel="stylesheet" href="./theme/look.css">' in start or 'href="theme/look.css"' in start
    assert 'src="theme/logo.png" alt="Invented Office"' in start
    assert 'src="../theme/logo.png"' in next((site / "locations").glob("*.html")).read_text("utf-8")
    assert (site / "theme/look.css").read_bytes() == CSS
    assert b"PlantedCamera77" not in (site / "theme/logo.png").read_bytes()
    assert "theme/look.css" in (site / "files.html").read_text("utf-8")
