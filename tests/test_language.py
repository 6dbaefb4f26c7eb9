"""Our words in another language: each block, key and phrase has its sibling, and a report holds no English of ours."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator, Mapping
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from jinja2 import nodes

from sitegen.compute.formats import MONTHS, long_date
from sitegen.render.print.table import LEADS, cell_text
from sitegen.report.evidence.changetables import factor_text
from sitegen.report.record.pages import Cell
from sitegen.report.write.words import _environment, word
from sitegen.voice import LANGUAGES, Voice, phrases, speaking, worded

ROOT = Path(__file__).parent.parent / "sitegen"
WORDS = ROOT / "templates/words"
OTHERS = [language for language in LANGUAGES if language != "en"]
TEMPLATES = sorted(path.name for path in WORDS.glob("*.j2"))
LISTS = sorted(path.name for path in WORDS.glob("*.toml"))
WRITTEN = re.compile(r"\{\{\s*worded\(\"((?:\\.|[^\"\\])*)\"|this\.worded\(\"((?:\\.|[^\"\\])*)\"")
FIELD = re.compile(r"\{(\w+)")


@cache
def blocks(language: str, name: str) -> dict[str, nodes.Block]:
    """Return the blocks of a word template by name, in their order."""
    with speaking(Voice(language=language)):
        made = _environment(Voice(language=language), markdown=True)
    folder = WORDS if language == "en" else WORDS / language
    parsed = made.parse((folder / name).read_text("utf-8"))
    return {block.name: block for block in parsed.find_all(nodes.Block)}


def facts(block: nodes.Block) -> set[str]:
    """Return the names of the facts that a block is filled with."""
    return {node.name for node in block.find_all(nodes.Name) if node.ctx == "load"}


def links(block: nodes.Block) -> list[str]:
    """Return the numbers of the references in a block."""
    text = "".join(part.data for part in block.find_all(nodes.TemplateData))
    return sorted(set(re.findall(r"\(ref:(\d*)", text)))


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("name", TEMPLATES)
def test_each_block_of_words_has_its_sibling(language: str, name: str) -> None:
    """The same blocks in the same order, filled with the same facts, leading to the same places."""
    ours, theirs = blocks("en", name), blocks(language, name)
    assert list(theirs) == list(ours)
    for block in ours:
        assert facts(theirs[block]) == facts(ours[block]), block
        assert links(theirs[block]) == links(ours[block]), block


def keys(value: Mapping[str, Any], before: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Yield the paths of all texts in a list of words."""
    for key, inner in value.items():
        if isinstance(inner, Mapping):
            yield from keys(inner, (*before, key))
        elif isinstance(inner, list) and inner and isinstance(inner[0], Mapping):
            for at, one in enumerate(inner):
                yield from keys(one, (*before, key, str(at)))
        else:
            yield (*before, key)


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("name", LISTS)
def test_each_list_of_words_has_its_sibling(language: str, name: str) -> None:
    """Every key of a list is there; only labels may have more, for words that English reads off the code itself."""
    ours = set(keys(tomllib.loads((WORDS / name).read_text("utf-8"))))
    theirs = set(keys(tomllib.loads((WORDS / language / name).read_text("utf-8"))))
    assert ours <= theirs
    assert name == "labels.toml" or ours == theirs


def asked() -> Iterator[tuple[str, str]]:
    """Yield each text that Python, a page or a map asks to be worded, with the file that asks."""
    for path in sorted(ROOT.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            for part in _told(node):
                if isinstance(part, ast.Constant) and isinstance(part.value, str):
                    yield path.relative_to(ROOT).as_posix(), part.value
    for path in (*sorted(ROOT.glob("templates/*/**/*.html")), ROOT / "templates/map/page.html.j2"):
        for plain, of_map in WRITTEN.findall(path.read_text("utf-8")):
            yield path.relative_to(ROOT).as_posix(), plain or of_map


def _told(node: ast.AST) -> Iterator[ast.AST]:
    """Yield what a call words: all of its first argument, or the heads and meanings of a column."""
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.args:
        if node.func.id == "worded":
            yield from _either(node.args[0])
        elif node.func.id == "Spec":
            yield from (*node.args[1:3], *(key.value for key in node.keywords if key.arg in HEADS))


def _either(node: ast.AST) -> Iterator[ast.AST]:
    """Yield what an expression may be: each of its alternatives."""
    if isinstance(node, ast.IfExp):
        yield from (*_either(node.body), *_either(node.orelse))
    elif isinstance(node, ast.BoolOp):
        for one in node.values:
            yield from _either(one)
    else:
        yield node


HEADS = ("title", "unit", "meaning")
SAME = re.compile(r"[^A-Za-z]*|[A-Z0-9 .,/+()-]+|\W*[a-zA-Z°µ]{1,3}[²³]?\W*|(?:[^{}A-Za-z]|\{\w+[^}]*\})*")
"""Texts without a word of ours: signs, codes in capitals, units, and facts alone."""


@pytest.mark.parametrize("language", OTHERS)
def test_each_text_of_python_and_pages_is_said(language: str) -> None:
    """Whatever is asked to be worded by a literal has its phrase."""
    known = phrases(language)
    missing = {(name, text) for name, text in asked() if text not in known and not SAME.fullmatch(text)}
    assert missing == set()


@pytest.mark.parametrize("language", OTHERS)
def test_phrases_keep_their_facts_and_are_said_once(language: str) -> None:
    """No phrase stands in two files; each fills in the facts that the English does, and is not empty."""
    seen: dict[str, str] = {}
    for path in sorted((WORDS / language / "phrases").glob("*.toml")):
        for english, theirs in tomllib.loads(path.read_text("utf-8")).items():
            assert english not in seen, (english, seen.get(english), path.name)
            seen[english] = path.name
            assert theirs.strip(), english
            assert set(FIELD.findall(theirs)) == set(FIELD.findall(english)), english
            if english != english.strip():
                assert theirs[0].isspace() == english[0].isspace(), english
                assert theirs[-1].isspace() == english[-1].isspace(), english


def test_a_text_without_words_is_not_asked_for() -> None:
    """What counts as the same in every language has no word in it."""
    assert SAME.fullmatch("{part}/{whole} (1)")
    assert SAME.fullmatch("m²")
    assert not SAME.fullmatch("not recorded")
    assert not SAME.fullmatch("{part} of {whole} points")


@pytest.mark.parametrize("language", OTHERS)
def test_each_language_has_its_names_of_months(language: str) -> None:
    """A date has no English month in it."""
    with speaking(Voice(language=language)):
        told = " ".join(long_date(date(2025, month, 1)) for month in range(1, 13))
    assert not [month for month in MONTHS if month in told]


@pytest.mark.parametrize("language", OTHERS)
def test_words_that_stand_alone_are_said(language: str) -> None:
    """The states of a report, the words before a cell's text in print, and no code of a script."""
    with speaking(Voice(language=language)):
        for state in ("issued", "for review", "draft", "superseded"):
            assert worded(state) != state
        assert worded("issued") == word("report_state", "issued")
        for tone, (shape, english) in LEADS.items():
            assert cell_text(Cell("", tone=tone)) == f"{shape} {worded(english)}"
            assert worded(english) != english or tone == "no"
        script = (ROOT / "templates/map/panel.js").read_text("utf-8")
        assert 'type.endsWith("' not in script
        assert float(factor_text(1234.0).removeprefix("× ").replace("\u202f", "")) == 1230
