"""Files that come with installed packages or follow from our colours, made at build time."""

from __future__ import annotations

from collections.abc import Iterable
from importlib.resources import files
from pathlib import Path

from sitegen.figures import look
from sitegen.findings.problems import OutputFault

SITE_TEMPLATES = Path(str(files("sitegen"))) / "templates" / "site"
"""Our own templates of the site: ``theme/`` for the frame, ``static/`` for CSS and scripts."""

_INK_ON_CLASS = ("#000000", "#000000", "#000000", "#000000", "#ffffff", "#ffffff", "#ffffff")
"""Text colour on each class colour: contrast 4.5 to 1 or more on every one (tested)."""


def package_file(package: str, path: str) -> bytes:
    """Return a file of an installed package, such as a script or a style sheet.

    Raises ``FileNotFoundError`` if the package does not hold it.

    >>> package_file("sitegen", "py.typed")
    b''
    """
    return files(package).joinpath(path).read_bytes()


def class_inks() -> tuple[tuple[str, str], ...]:
    """Return background and text colour of each mass class, lowest first."""
    return tuple(zip(look.CLASS_COLOURS, _INK_ON_CLASS, strict=True))


def colour_css() -> bytes:
    """Return the style sheet that carries the shared colours to the pages."""
    names = {"accent": look.ACCENT, "ink": look.INK, "muted": look.MUTED, "rule": look.RULE}
    names |= {"paper": look.PAPER, "warn": look.WARN}
    lines = [":root {", *(f"  --{name}: {colour};" for name, colour in names.items()), "}"]
    for number, (colour, ink) in enumerate(class_inks()):
        lines.append(f".data .tone-class{number} {{ background: {colour}; color: {ink}; }}")
    return ("\n".join(lines) + "\n").encode("ascii")


def is_needed(theme_file: str) -> bool:
    """Say whether a file of the site's theme is used by our pages.

    Not needed: source maps, the theme's scripts, its own icon and the colour schemes that ours replace.
    """
    unused = ("sitemap.xml", "assets/javascripts/", "assets/images/", "assets/stylesheets/palette.")
    return not theme_file.endswith(".map") and not theme_file.startswith(unused)


def theme_stylesheet(paths: Iterable[str]) -> str:
    """Return the theme's style sheet, whose name carries a hash.

    Raises ``OutputFault`` unless there is exactly one.
    """
    start, end = "assets/stylesheets/main.", ".min.css"
    found = [path for path in paths if path.startswith(start) and path.endswith(end)]
    if len(found) != 1:
        raise OutputFault(f"the theme has {len(found)} files {start}*{end}, expected one")
    return found[0]
