"""The texts that a bag carries for people: the README and the page that checks files."""

from __future__ import annotations

from collections.abc import Mapping
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined

from sitegen.render.place.bag import one_line

_MAX_TOLD = 20
"""Faults told one by one; the rest is counted."""
_MAX_CHARS = 1_000
"""What a line of a verdict quotes of a path or a reason: a manifest may name a path of any length."""


def readme(facts: Mapping[str, object]) -> bytes:
    """Return the README of a bag as plain text; facts keep to their lines."""
    return _filled("readme.txt.j2", facts)


def private_readme(facts: Mapping[str, object]) -> bytes:
    """Return the README of the bag of private files."""
    return _filled("readme_private.txt.j2", facts)


def verdict_lines(facts: Mapping[str, object]) -> list[str]:
    """Return what a check of an archive came to, line by line."""
    return _environment().get_template("verdict.j2").render(most=_MAX_TOLD, **facts).splitlines()


def check_page() -> bytes:
    """Return the page that checks the bag in a browser: one file, nothing loaded from elsewhere."""
    script = files("sitegen").joinpath("templates/archive/check.js").read_text("utf-8")
    style = files("sitegen").joinpath("templates/archive/check.css").read_text("utf-8")
    template = _environment().get_template("check.html.j2")
    return template.render(script=script.rstrip("\n"), style=style.rstrip("\n")).encode()


def _filled(template: str, facts: Mapping[str, object]) -> bytes:
    return _environment().get_template(template).render(**facts).encode()


def _environment() -> Environment:
    """Return an environment whose facts can't begin lines of their own."""
    made = Environment(
        loader=PackageLoader("sitegen", "templates/archive"),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        autoescape=False,  # noqa: S701 - plain text; the page holds no fact of a project
    )
    made.filters["line"] = lambda text: one_line(str(text))
    made.filters["brief"] = _brief
    return made


def _brief(text: str) -> str:
    return one_line(text if len(text) <= _MAX_CHARS else f"{text[:_MAX_CHARS]} …")
