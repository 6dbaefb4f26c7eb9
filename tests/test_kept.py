"""Compiled templates are kept, and never in the way."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from jinja2 import DictLoader, Environment

from sitegen.kept import template_cache


def rendered(text: str, name: str = "tests") -> str:
    """Render a text with an environment of its own."""
    made = Environment(loader=DictLoader({"a": text}), autoescape=True, bytecode_cache=template_cache(name))
    return made.get_template("a").render(it="<b>")


@pytest.fixture
def prefix(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Let Python keep compiled modules in a folder of their own."""
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    monkeypatch.setattr(sys, "pycache_prefix", str(tmp_path))
    return tmp_path


def test_a_compiled_template_is_kept_where_python_keeps_modules(prefix: Path) -> None:
    """One file for each template; a second use reads it and gives the same."""
    assert rendered("{{ it }}") == "&lt;b&gt;"
    (file,) = (path for path in prefix.rglob("*") if path.is_file())
    assert file.name.startswith("tests-")
    before = file.read_bytes()
    assert rendered("{{ it }}") == "&lt;b&gt;"
    assert file.read_bytes() == before


def test_a_changed_template_is_compiled_anew(prefix: Path) -> None:
    """What was kept for an earlier text is not used, and neither is a damaged file."""
    rendered("old")
    assert rendered("new") == "new"
    for path in prefix.rglob("tests-*"):
        path.write_bytes(path.read_bytes()[:-9])
    assert rendered("new") == "new"


def test_nothing_is_kept_where_it_may_not_be(prefix: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Python's own switch is obeyed, and a place that can't be written is no fault."""
    monkeypatch.setattr(sys, "pycache_prefix", str(prefix / "file/below"))
    (prefix / "file").write_text("not a folder")
    assert rendered("{{ it }}") == "&lt;b&gt;"
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert template_cache("tests") is None
