"""Templates in the voice that speaks, and what is compiled of them, kept as Python keeps its compiled modules.

Compiling them took 0.5 to 0.8 s of each build.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable
from contextlib import suppress
from importlib.util import cache_from_source
from pathlib import Path

from jinja2 import BytecodeCache, FileSystemBytecodeCache
from jinja2.bccache import Bucket
from jinja2.ext import Extension
from jinja2.lexer import Token, TokenStream

from sitegen.voice import spelt, voice

_TEMPLATES = Path(__file__).parent / "templates"


class _Kept(FileSystemBytecodeCache):
    """Compiled templates in a folder; where it can't be used, each run compiles its own."""

    def load_bytecode(self, bucket: Bucket) -> None:
        """Read one compiled template, if it was kept."""
        with suppress(OSError):
            super().load_bytecode(bucket)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep one compiled template."""
        with suppress(OSError):
            Path(self.directory).mkdir(parents=True, exist_ok=True)
            super().dump_bytecode(bucket)


def template_cache(name: str) -> BytecodeCache | None:
    """Return where the environment ``name`` keeps its compiled templates; None if nothing may be kept.

    A template that was changed, or another version of Jinja or Python, is compiled anew.
    Environments with different settings compile differently and need names of their own.
    """
    if sys.dont_write_bytecode:
        return None
    folder = Path(cache_from_source(str(_TEMPLATES / "any.py"))).parent
    return _Kept(str(folder), f"{name}-{voice().language}-{voice().spelling}-%s.{sys.implementation.cache_tag}")


class InVoice(Extension):
    """Compiles a template in the voice that speaks: its text, and the texts that it quotes, but no fact.

    What is compared or looked up is a key, not text. Of HTML only what stands between tags is text.
    An environment is made for one voice and used in it alone.
    """

    def filter_stream(self, stream: TokenStream) -> Iterable[Token]:
        """Yield the tokens of a template with its own words spelt."""
        html, depth, before = ".html" in (stream.name or ""), 0, ""
        for token in stream:
            if token.type == "data" and html:
                text, depth = _between_tags(token.value, depth)
                yield Token(token.lineno, token.type, text)
            elif token.type == "data" or (token.type == "string" and not html and before not in _LOOKS_UP):
                yield Token(token.lineno, token.type, spelt(token.value))
            else:
                yield token
            before = token.value if token.type in ("name", "operator") else token.type


_LOOKS_UP = frozenset({"eq", "ne", "lbracket", "in", "import", "include", "extends", "from"})
"""Tokens before a string that is no text."""


def _between_tags(html: str, depth: int) -> tuple[str, int]:
    """Return a part of a page with what stands between its tags spelt, and whether it ends inside of one.

    >>> _between_tags('<b class="colour">Colour</b><a href="', 0)
    ('<b class="colour">Colour</b><a href="', 1)
    """
    found = []
    for part in re.split(r"([<>])", html):
        depth = {"<": 1, ">": 0}.get(part, depth)
        found.append(part if depth else spelt(part))
    return "".join(found), depth
