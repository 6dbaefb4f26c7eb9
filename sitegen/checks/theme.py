"""The project's own look: its files are there, the logo is a picture, the stylesheet neither loads nor hides."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import islice

from sitegen.checks.catalogue import find
from sitegen.findings.problems import Finding, Where
from sitegen.project.read.pictures import picture_kind, picture_opens, picture_size
from sitegen.project.read.styles import FUNCTIONS, PROPERTIES, style_faults
from sitegen.project.schema import SETTINGS_FILE
from sitegen.project.survey import Survey
from sitegen.project.theme import own_page
from sitegen.voice import worded

LOGO_SIDE_PX = 2000
"""A logo is no wider and no higher: it stands on every page. Project default, no published source."""
STYLESHEET_BYTES = 100_000
"""A stylesheet is no larger: every page reads it. Project default, no published source."""
TOLD = 20
"""Faults of one stylesheet that are told."""


def files_there(survey: Survey) -> Iterator[Finding]:
    """The files of the project's own look are in the folder, and each page is listed once."""
    theme = survey.settings.theme
    named = {"logo": (theme.logo,), "stylesheet": (theme.stylesheet,), "pages": tuple(theme.pages)}
    for key, paths in named.items():
        for path, count in Counter(paths).items():
            where = Where(SETTINGS_FILE, None, f"theme.{key}")
            if path and path not in survey.folder.files:
                yield find(
                    "theme-missing",
                    path,
                    where,
                    worded("{path}, which is absent", path=path),
                    worded("a file in theme/"),
                )
            elif path and count > 1:
                yield find(
                    "theme-missing",
                    path,
                    where,
                    worded("{path}, listed {count} times", path=path, count=count),
                    worded("each page once"),
                )


def logo_is_a_picture(survey: Survey) -> Iterator[Finding]:
    """The logo is a picture that can be opened, of modest size, and has words that stand for it."""
    theme = survey.settings.theme
    content = survey.folder.content(theme.logo)
    if content is None:
        return
    where = Where(theme.logo)
    width, height = picture_size(content)
    if not picture_kind(content) or not (width and height):
        yield find(
            "theme-logo",
            theme.logo,
            where,
            worded("no such picture"),
            worded("a PNG, JPEG or WebP picture"),
            kind="file",
        )
    elif max(width, height) > LOGO_SIDE_PX:
        expected = worded("at most {most} by {most} pixels", most=LOGO_SIDE_PX)
        yield find(
            "theme-logo",
            theme.logo,
            where,
            worded("{width} by {height} pixels", width=width, height=height),
            expected,
            kind="file",
        )
    elif not picture_opens(content):
        yield find(
            "theme-logo", theme.logo, where, worded("a damaged picture"), worded("a picture that opens"), kind="file"
        )
    elif not theme.logo_alt.strip():
        where = Where(SETTINGS_FILE, None, "theme.logo_alt")
        yield find(
            "theme-logo",
            "logo_alt",
            where,
            worded("no alternative text for the logo"),
            worded("the text of the logo in words"),
        )


def stylesheet_only_dresses(survey: Survey) -> Iterator[Finding]:
    """The stylesheet sets colours, type, lines and spacing; it loads nothing, hides nothing and writes nothing."""
    path = survey.settings.theme.stylesheet
    content = survey.folder.content(path)
    if content is None:
        return
    if len(content) > STYLESHEET_BYTES:
        expected = worded("at most {most:,} bytes", most=STYLESHEET_BYTES)
        yield find(
            "theme-style", path, Where(path), worded("{count:,} bytes", count=len(content)), expected, kind="file"
        )
        return
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        yield find(
            "theme-style", path, Where(path), worded("bytes that are not UTF-8"), worded("UTF-8 text"), kind="file"
        )
        return
    expected = worded(
        "the properties {properties}, and the functions {functions}",
        properties=", ".join(PROPERTIES),
        functions=", ".join(FUNCTIONS),
    )
    for number, fault in enumerate(islice(style_faults(text), TOLD), start=1):
        yield find("theme-style", f"{path}+{number}", Where(path, fault.line), fault.words, expected, kind="file")


def pages_have_titles(survey: Survey) -> Iterator[Finding]:
    """Each page of the project's own begins with its title."""
    for path in dict.fromkeys(survey.settings.theme.pages):
        text = survey.texts.get(path.removesuffix(".md"))
        if text is not None and own_page(path, text) is None:
            first = next(iter(text.split("\n")), "").strip()
            found = repr(first[:60]) if first else worded("an empty line")
            expected = worded("a title in plain words, as in # About us")
            yield find("theme-page", path, Where(path, 1), found, expected, kind="file")


RULES = (files_there, logo_is_a_picture, stylesheet_only_dresses, pages_have_titles)
