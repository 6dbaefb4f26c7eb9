"""Every text of ours that a reader of a report or a kit may see, found in the sources, without what is filled in."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from jinja2 import Environment

import sitegen
from sitegen.voice import LANGUAGES

ROOT = Path(sitegen.__file__).parent
TEMPLATES = ROOT / "templates"
LISTS = (*sorted((TEMPLATES / "words").glob("*.toml")), ROOT / "data/checks.toml", TEMPLATES / "fieldwork/labels.toml")
PAGES = ("words", "site", "kit", "fieldwork", "map")
SCRIPTS = ("map", "fieldwork", "site")
ROOMS = ("report", "figures", "checks", "compute", "render")
_WORD = re.compile(r"(?<![\w.{/#\\\-])[A-Za-z]+(?:['’][a-z]+)?(?![\w.]*[\w(=]|\])")
_UNTOLD = ("source", "code", "limit", "needs", "subject", "severity", "from_stage")
"""Keys of lists whose texts are codes or the titles of other people's works."""


def texts() -> Iterator[tuple[str, str]]:
    """Yield each text with the file that it is in."""
    for path in LISTS:
        yield from ((path.name, text) for text in _told(tomllib.loads(path.read_text("utf-8"))))
    for folder in PAGES:
        for path in sorted((TEMPLATES / folder).rglob("*")):
            if path.suffix in (".j2", ".html") and path.parent.name not in LANGUAGES:
                yield from ((path.name, text) for text in _of_template(path))
    for folder in SCRIPTS:
        for path in sorted((TEMPLATES / folder).rglob("*.js")):
            yield from ((path.name, text) for text in quoted(path.read_text("utf-8")))


def words_of(text: str) -> Iterator[str]:
    """Yield the words of a text in small letters, without signs, units and names of files or columns."""
    for match in _WORD.finditer(text):
        word = match[0].replace("’", "'")
        if len(word) > 1 and (word.islower() or word.istitle()):
            yield word.lower()


def _told(value: Any) -> Iterator[str]:  # noqa: ANN401 - whatever TOML holds
    if isinstance(value, str):
        yield re.sub(r"`[^`]*`", "", value)
    elif isinstance(value, dict):
        for key, one in value.items():
            yield from () if key in _UNTOLD else _told(one)
    elif isinstance(value, list):
        for one in value:
            yield from _told(one)


def _of_template(path: Path) -> Iterator[str]:
    text = path.read_text("utf-8")
    html = ".html" in path.name
    found = []
    for _, kind, value in Environment(autoescape=True).lex(text):
        if kind == "data":
            found.append(value)
        elif kind == "string" and (html or " " in value):
            yield value[1:-1]
        elif kind in ("variable_begin", "block_begin"):
            found.append(" ")
    whole = "".join(found)
    if html:
        whole = re.sub(r"<[^>]*>", " ", re.sub(r"<(script|style)\b.*?</\1>", " ", whole, flags=re.DOTALL))
    yield re.sub(r"`[^`]*`|\]\([^)]*\)|&\w+;|https?:\S+", " ", whole)


def quoted(script: str) -> Iterator[str]:
    """Yield the quoted texts of a script that have a blank, without what is filled in."""
    for match in re.finditer(r"//[^\n]*|/\*.*?\*/|\"(?:\\.|[^\"\\\n])*\"|`(?:\\.|[^`\\\n])*`", script, re.DOTALL):
        if match[0][0] != "/" and " " in match[0] and match[0][1] not in ".#['":
            yield re.sub(r"\$\{[^}]*\}?", " ", match[0][1:-1])


def literals(path: Path) -> Iterator[tuple[int, str, bool]]:
    """Yield the texts of a module that are no key: line, text, and whether :func:`worded` is asked for it."""
    tree = ast.parse(path.read_text("utf-8"))
    asked: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "worded":
            asked |= {id(inner) for inner in ast.walk(node)}
    docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs:
            text = node.value
            if " " in text or text[:1].isupper():
                yield node.lineno, text, id(node) in asked
