"""The project's own look: its pages as the settings list them, and the names that its files have on the site."""

from __future__ import annotations

import re
from pathlib import PurePosixPath
from typing import NamedTuple

from sitegen.project.survey import Survey

LOGO = "theme/logo"
"""Where the logo stands on the site; its name has the ending of its kind."""
_TITLE = re.compile(r"# +(?P<title>[^\s#{}][^\n{}]*)\n?")


class OwnPage(NamedTuple):
    """A page that the project adds: the name of its text, its title, and what follows."""

    name: str
    title: str
    body: str

    @property
    def slug(self) -> str:
        """The name of the page among the report's pages."""
        return f"own-{PurePosixPath(self.name).name}"


def own_pages(survey: Survey) -> tuple[OwnPage, ...]:
    """Return the pages that the project adds and that begin with a title, in the order of the settings."""
    names = (path.removesuffix(".md") for path in survey.settings.theme.pages)
    made = (own_page(name, survey.texts[name]) for name in dict.fromkeys(names) if name in survey.texts)
    return tuple(page for page in made if page)


def own_page(name: str, text: str) -> OwnPage | None:
    r"""Return a page from its Markdown; None where it does not begin with a title without numbers from the data.

    >>> own_page("theme/about-us", "# About us\n\nWords.")
    OwnPage(name='theme/about-us', title='About us', body='\nWords.')
    >>> own_page("theme/about-us", "Words.") is None
    True
    """
    text = text.replace("\r\n", "\n")
    match = _TITLE.match(text)
    return OwnPage(name, match["title"].rstrip(" #"), text[match.end() :]) if match else None
