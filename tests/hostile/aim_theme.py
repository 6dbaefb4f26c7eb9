"""A hostile look: stylesheets that load or hide, logos that are none, pages and names that lead elsewhere."""

from __future__ import annotations

from collections.abc import Iterator

from aim_pictures import BROKEN, ODD, TOO_LARGE, Picture
from builders import Change, content, settings_added
from hostile_case import Answer, Hostile, Maker, Place, edited, late

CSS, LOGO, PAGE = "theme/look.css", "theme/logo.png", "theme/about-us.md"
SOUND_CSS = b":root { --accent: #7a1f3d; }\n"
SOUND_PAGE = b"# About this office\n\nWords.\n"
STYLES = (
    b"@import 'x.css';", b"@import url(//x.invalid)", b"body{background:url(http://x.invalid/a)}",
    b"a{background:image-set('a' 1x)}",
    b"a{color:\\75 rl(x)}", b".notice{display:none}", b".notice{visibility:hidden}", b".notice{opacity:0}",
    b"a{position:fixed}",
    b"a::before{content:'words'}", b"a{height:0}", b"@font-face{src:url(x)}", b"@namespace x;", b"@charset 'x';",
    b"@layer x{a{width:0}}",
    b"</style><script>window.ran=1</script>", b"<!-- a{} -->", b"a{behavior:url(x)}", b"a{-moz-binding:url(x)}",
    b"a{color:expression(1)}",
    b"a{transform:scale(0)}", b"a{clip-path:none}", b"a{filter:blur(9px)}", b"a{font-size:0;z-index:-1}",
    b"a{cursor:url(x),auto}",
    b"a{list-style:url(x)}", b"a{mask:url(x)}", b"@media print{*{display:none}}", b"a{color:var(--x,url(y))}",
    b"@property --x{syntax:'*'}",
    b"a{" * 5_000, b"a{color:red}" * 9_000, b"/*" * 50_000, b"/* x",
    b"a{color:" + b"(" * 40_000, b"'" + b"a" * 90_000, b"\x00" * 1_000,
    b"\xff\xfea{}", b"a" * 99_999 + b"{",
    b"a{--x:" + b"{" * 30_000, b"@media " * 10_000, b"a:is(" * 15_000, b"{;}" * 30_000,
)  # fmt: skip
FORBIDDEN = 30
"""So many of them, the first, may never be used; the others are long or odd."""
PAGES = {
    "no title": b"Words.\n",
    "a claim for a title": b"# {{ max.pce }}\n",
    "nothing": b"",
    "spoilt bytes": b"# A\n\xff",
    "20,000 quotes within each other": b"# A\n\n" + b">" * 20_000 + b"x",
    "a word of 1 MB": b"# A\n\n" + b"w" * 1_000_000,
    "a title of 100,000 letters": b"# " + b"h" * 100_000 + b"\n",
    "50,000 brackets": b"# A\n\n" + b"[" * 50_000,
}
NAMES = (
    "theme/../project.toml", "/etc/passwd", "theme/a/b.md", "theme\\\\a.md", "../theme/x.md", "theme/X.md",
    "theme/.md", "theme/a.html",
    "theme/" + "a" * 300 + ".md", "photos/sg-35.png", "theme/a\\u0000.md", "theme/about-us.md/",
)  # fmt: skip


def inputs() -> Iterator[Hostile]:
    """Yield the inputs of this class."""
    for number, css in enumerate(STYLES):
        answer = Answer.BOUNDED if number >= FORBIDDEN else Answer.REFUSED
        places = (Place(CSS),) if answer is Answer.REFUSED else ()
        yield Hostile(
            "theme", f"style {number}: {css[:40].decode('ascii', 'replace')!a}", edited(*_look(css=css)), answer, places
        )
    for what, picture in (TOO_LARGE | BROKEN).items():
        yield Hostile("theme", f"logo: {what}", _logo(picture), places=(Place(LOGO),))
    for what, picture in ODD.items():
        yield Hostile("theme", f"logo: {what}", _logo(picture), Answer.BOUNDED)
    for what, page in PAGES.items():
        yield Hostile("theme", f"page: {what}", edited(*_look(page=page)), places=(Place(PAGE),))
    for name in NAMES:
        stated = f'[theme]\nlogo = "{name}"\nstylesheet = "{name}"\npages = ["{name}"]\n'
        places = tuple(Place("project.toml", None, f"theme.{key}") for key in ("logo", "stylesheet", "pages.0"))
        yield Hostile("theme", f"all called {name[:40]!a}", edited(settings_added(stated)), places=places)
    for what, words in (("1 MB", "w" * 1_000_000), ("markup", "<b onclick=window.ran=1>'"), ("blank", " ")):
        answer = Answer.REFUSED if what != "markup" else Answer.BOUNDED
        yield Hostile("theme", f"words for the logo: {what}", _logo(ODD["an animated PNG"], words), answer)


def _logo(picture: Picture, words: str = "Invented office") -> Maker:
    return edited(*_look(words=words, logo=True), late(LOGO, picture))


def _look(css: bytes = SOUND_CSS, page: bytes = SOUND_PAGE, *, logo: bool = False, words: str = "x") -> list[Change]:
    stated = f'[theme]\nstylesheet = "{CSS}"\npages = ["{PAGE}"]\n'
    if logo:
        stated += f'logo = "{LOGO}"\nlogo_alt = "{words}"\n'
    return [settings_added(stated), content(CSS, css), content(PAGE, page)]
