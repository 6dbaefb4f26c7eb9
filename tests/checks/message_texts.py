"""The texts that tell what to do, as the source writes them: what is put in stands as ``{}``."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2] / "sitegen"
MAKERS = {"Unusable": 2, "Fault": -1, "Miss": -1, "Finding": 6, "told": -1, "_told": 4, "_Own": -1}
"""What makes findings, or their parts, with the place of the text among its arguments."""

_PUT_IN = re.compile(r"\{\w+(?:![rsa])?(?::[^{}]*)?\}")


def texts() -> set[str]:
    """Return every text that tells what to do in the rooms that make findings, drafts of mappings left out."""
    paths = [path for room in ("checks", "project") for path in sorted((ROOT / room).rglob("*.py"))]
    found = {text for path in paths if path.parent.name != "proposal" for text in _of_file(path)}
    return {text for text in found if " " in text}


def pattern(text: str) -> re.Pattern[str]:
    """Return a pattern that a message made from a text matches."""
    return re.compile(".+?".join(map(re.escape, text.split("{}"))), re.DOTALL)


def _of_file(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        for part in _parts(node):
            yield from _written(part)


def _parts(node: ast.AST) -> Iterator[ast.expr]:
    """Yield what a node writes as a text that tells what to do."""
    if isinstance(node, ast.Assign) and node.value and _is_do(node.targets[0]):
        yield node.value
    elif isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Tuple):
        if isinstance(node.value, ast.Tuple):
            pairs = zip(node.targets[0].elts, node.value.elts, strict=False)
            yield from (value for target, value in pairs if _is_do(target))
    elif isinstance(node, ast.keyword) and node.arg == "do":
        yield node.value
    elif isinstance(node, ast.Call):
        name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        if name in MAKERS and len(node.args) > max(MAKERS[name], 2):
            yield node.args[MAKERS[name]]
    elif isinstance(node, ast.Tuple) and len(node.elts) >= 4 and _is_severity(node.elts[1]):
        yield node.elts[-1]


def _is_do(target: ast.expr) -> bool:
    return isinstance(target, ast.Name) and target.id == "do"


def _is_severity(node: ast.expr) -> bool:
    return isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "Severity"


def _written(node: ast.expr) -> Iterator[str]:
    """Yield the texts that an expression may come to."""
    if isinstance(node, ast.IfExp):
        yield from _written(node.body)
        yield from _written(node.orelse)
    elif isinstance(node, ast.BoolOp):
        for value in node.values:
            yield from _written(value)
    elif isinstance(node, ast.Call) and getattr(node.func, "id", "") == "worded":
        for text in _written(node.args[0]):
            yield text.replace("{{", "{").replace("}}", "}") if node.keywords else text
    elif isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield _PUT_IN.sub("{}", node.value)
    elif isinstance(node, ast.JoinedStr):
        parts = (str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
        yield _PUT_IN.sub("{}", "".join(parts))
