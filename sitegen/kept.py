"""Compiled templates, kept beside the package as Python keeps its compiled modules.

Compiling them took 0.5 to 0.8 s of each build.
"""

from __future__ import annotations

import sys
from contextlib import suppress
from importlib.util import cache_from_source
from pathlib import Path

from jinja2 import BytecodeCache, FileSystemBytecodeCache
from jinja2.bccache import Bucket

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
    return _Kept(str(folder), f"{name}-%s.{sys.implementation.cache_tag}")
