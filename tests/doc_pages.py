"""Pages of the handbook as tests read them: commands with what they print, lines of Python, calls of the program."""

from __future__ import annotations

import doctest
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "docs"
LENIENT = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
"""Three dots stand for what a page leaves out, and the width of blanks is of no account."""

_FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_SPAN = re.compile(r"`(sitegen [^`\n]+)`")
_LINE = re.compile(r"^(?:\$ | {4}|)(?:\S*[/\\])?(sitegen .+)$", re.MULTILINE)
_BETWEEN = "--- the next command ---"


class Step(NamedTuple):
    """A command of a page, and what the page says that it prints."""

    command: str
    printed: str


def steps(text: str) -> list[Step]:
    r"""Return the commands of a page's console blocks in their order.

    >>> steps("```console\n$ echo one\none\n$ cd ..\n```\n")
    [Step(command='echo one', printed='one\n'), Step(command='cd ..', printed='')]
    """
    blocks = (block for language, block in _FENCE.findall(text) if language == "console")
    parts = (part.partition("\n") for block in blocks for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:])
    return [Step(command, printed) for command, _, printed in parts]


def python_alone(text: str) -> str:
    r"""Return a page with all but its Python blanked, so that a line keeps its number.

    >>> python_alone("Add.\n```python\n>>> 1 + 1\n2\n```\nEnd.\n")
    '\n\n>>> 1 + 1\n2\n\n\n'
    """
    kept = [""] * text.count("\n")
    for block in _FENCE.finditer(text):
        if block[1] == "python":
            first = text.count("\n", 0, block.start(2))
            lines = block[2].splitlines()
            kept[first : first + len(lines)] = lines
    return "\n".join([*kept, ""])


def differences(page_steps: list[Step], place: Path) -> Iterator[str]:
    """Run the commands of a page one after another in a folder, and yield those that print something else."""
    program = place.parent / "bin" / "sitegen"
    program.parent.mkdir(exist_ok=True)
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m sitegen "$@"\n', "utf-8")
    program.chmod(0o755)
    known = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUTF8": "1", "PATH": f"{program.parent}:{os.environ['PATH']}"}
    script = "".join(f"{step.command}\nprintf '%s\\n' '{_BETWEEN}'\n" for step in page_steps)
    done = subprocess.run(
        ["bash"], input=script, cwd=place, env=known, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        encoding="utf-8", check=False,
    )  # fmt: skip
    *outputs, rest = done.stdout.split(f"{_BETWEEN}\n")
    if len(outputs) != len(page_steps) or rest:
        yield f"{len(outputs)} of {len(page_steps)} commands ended; then: {rest}"
    for step, output in zip(page_steps, outputs, strict=False):
        if not doctest.OutputChecker().check_output(step.printed, output, LENIENT):
            yield f"$ {step.command}\n{output}-- but the page says:\n{step.printed}"


def commands(text: str) -> list[list[str]]:
    r"""Return the words of each call of the program that a text shows in code.

    >>> commands("Call `sitegen check FOLDER --notes`.\n\n    .venv/bin/sitegen new my_survey   # make it\n")
    [['check', 'FOLDER', '--notes'], ['new', 'my_survey']]
    """
    code = "\n".join([*_SPAN.findall(text), *(line for line in _LINE.findall(text) if "`" not in line)])
    return [re.split(r"\s+[#>|&]| \|\|", line)[0].split()[1:] for line in code.splitlines()]
