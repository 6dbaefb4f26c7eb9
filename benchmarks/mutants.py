"""Small wrong changes of a module's source, which its tests should notice.

Each is an edit of one expression. Docstrings, annotations, decorators and what is raised are left alone.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

PAIRS = (
    *((ast.Lt, ast.LtE), (ast.Gt, ast.GtE), (ast.Eq, ast.NotEq), (ast.In, ast.NotIn), (ast.Is, ast.IsNot)),
    *((ast.Add, ast.Sub), (ast.Mult, ast.Div), (ast.BitOr, ast.BitAnd), (ast.And, ast.Or)),
)
OTHER = {one: two for pair in PAIRS for one, two in (pair, pair[::-1])} | {ast.FloorDiv: ast.Div, ast.Pow: ast.Mult}
NAMES = (
    ("min", "max"),
    ("any", "all"),
    ("floor", "ceil"),
    ("startswith", "endswith"),
    ("removeprefix", "removesuffix"),
)
TWIN = {one: two for pair in NAMES for one, two in (pair, pair[::-1])}
EMPTY = {"tuple": "()", "list": "[]", "dict": "{}", "Mapping": "{}", "str": "''", "int": "0", "float": "0.0"}
ANY_OF = {"startswith", "endswith", "isinstance"}
CONDITIONS = {ast.If: "test", ast.IfExp: "test", ast.comprehension: "ifs", ast.match_case: "guard"}
GUARD = "strict"
"""An argument that only a slip of the program would need."""
CONTEXT = 30
Fields = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class Mutant:
    """One change: the expression between two bytes of a file is written otherwise."""

    file: str
    line: int
    statement: int
    """First line of the statement."""
    where: str
    """The function or class, or the name that a module binds."""
    before: str
    after: str
    span: tuple[int, int]
    old: str
    new: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line} in {self.where}: {self.before} → {self.after}"

    @property
    def room(self) -> str:
        """The folder or module below the package."""
        return self.file.split("/")[1].removesuffix(".py")

    @property
    def module(self) -> str:
        """The name of the module."""
        return self.file.rpartition("/")[2].removesuffix(".py")

    @property
    def key(self) -> tuple[str, str, str]:
        """What names a change wherever its module is moved to."""
        return self.where, self.before, self.after

    def applied(self, source: bytes) -> bytes | None:
        """Return the changed source, or nothing where positions are not exact (in f-strings) or it can't be read."""
        start, stop = self.span
        changed = source[:start] + f"({self.new})".encode() + source[stop:]
        try:
            exact = ast.unparse(ast.parse(b"(" + source[start:stop] + b")", mode="eval")) == self.old
            compile(changed, self.file, "exec", dont_inherit=True)
        except (SyntaxError, ValueError):
            return None
        return changed if exact else None


@dataclass(frozen=True)
class Site:
    """An expression and where it stands."""

    node: Any
    parent: ast.AST
    role: str
    where: str
    returns: str
    statement: int


def _spared(parent: ast.AST, role: str, child: ast.AST) -> bool:
    """Tell whether a part of the source is a message, a type, a guard, or words for readers of the source."""
    if role in {"annotation", "returns", "decorator_list", "msg"} or isinstance(child, ast.Raise | ast.ImportFrom):
        return True
    if isinstance(parent, ast.Subscript) and isinstance(parent.value, ast.Name) and role == "slice":
        name = parent.value.id
        return name in EMPTY or name in {"set", "frozenset", "type"} or (name[0].isupper() and not name.isupper())
    if isinstance(child, ast.keyword) and child.arg == GUARD:
        return True
    return isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant)


def _sites(parent: ast.AST, where: str = "", returns: str = "", statement: int = 0) -> Iterator[Site]:
    for role, value in ast.iter_fields(parent):
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST) or _spared(parent, role, child):
                continue
            name, gives = where, returns
            if isinstance(child, ast.FunctionDef | ast.ClassDef | ast.AsyncFunctionDef):
                name = f"{where}.{child.name}".lstrip(".")
                gives = ast.unparse(child.returns) if getattr(child, "returns", None) else ""
            elif not where and isinstance(child, ast.Assign | ast.AnnAssign):
                name = ast.unparse(child.targets[0] if isinstance(child, ast.Assign) else child.target)
            line = child.lineno if isinstance(child, ast.stmt) else statement
            if isinstance(child, ast.expr):
                yield Site(child, parent, role, name, gives, line)
            yield from _sites(child, name, gives, line)


# --- operators: a site in, changed expressions out -----------------------------------------


def _but(node: ast.expr, **fields: object) -> ast.expr:
    return type(node)(**(dict(ast.iter_fields(node)) | fields))


def _without(items: Sequence[Any]) -> Iterator[list[Any]]:
    """Yield a list short of each of its items."""
    for at in range(len(items) if len(items) > 1 else 0):
        yield [*items[:at], *items[at + 1 :]]


def _swapped(items: Sequence[Any], alike: Callable[[Any, Any], bool]) -> Iterator[list[Any]]:
    """Yield a list with each pair of neighbours that are alike, and not the same, changed over."""
    for at, (one, two) in enumerate(pairwise(items)):
        if alike(one, two) and ast.dump(one) != ast.dump(two):
            yield [*items[:at], two, one, *items[at + 2 :]]


def _names(one: ast.AST, two: ast.AST) -> bool:
    """Tell whether both are names, or both texts of one word such as columns and keys."""
    if isinstance(one, ast.Constant) and isinstance(two, ast.Constant):
        return all(isinstance(n.value, str) and " " not in n.value and n.value for n in (one, two))
    return isinstance(one, ast.Name | ast.Attribute) and isinstance(two, ast.Name | ast.Attribute)


def _operators(site: Site, _fields: Fields) -> Iterator[ast.expr]:
    node = site.node
    if isinstance(node, ast.Compare):
        for at, op in enumerate(node.ops):
            yield _but(node, ops=[*node.ops[:at], OTHER[type(op)](), *node.ops[at + 1 :]])
    elif isinstance(node, ast.BoolOp | ast.BinOp):
        operands = node.values if isinstance(node, ast.BoolOp) else (node.left, node.right)
        texts = any(isinstance(n, ast.JoinedStr) or isinstance(getattr(n, "value", None), str) for n in operands)
        if type(node.op) in OTHER and not (texts and isinstance(node, ast.BinOp)):
            yield _but(node, op=OTHER[type(node.op)]())
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        yield node.operand


def _constants(site: Site, _fields: Fields) -> Iterator[ast.expr]:
    value = getattr(site.node, "value", None)
    if isinstance(site.node, ast.Subscript) and isinstance(site.node.ctx, ast.Load):
        other = {"0": "-1", "-1": "0"}.get(ast.unparse(site.node.slice))
        if other:
            yield _but(site.node, slice=ast.parse(other, mode="eval").body)
    elif isinstance(site.node, ast.Constant) and isinstance(value, bool):
        yield ast.Constant(not value)
    elif isinstance(site.node, ast.Constant) and isinstance(value, int | float):
        yield from (ast.Constant(changed) for changed in (value + 1, value - 1) if changed != value)


def _attributes(site: Site, fields: Fields) -> Iterator[ast.expr]:
    if isinstance(site.node, ast.Attribute) and isinstance(site.node.ctx, ast.Load) and site.role != "func":
        for name in fields.get(site.node.attr, ()):
            yield _but(site.node, attr=name)


def _any_of(call: ast.AST) -> bool:
    """Tell whether a call takes several things of which any will do, in whatever order."""
    return isinstance(call, ast.Call) and ast.unparse(call.func).split(".")[-1] in ANY_OF


def _literals(site: Site, _fields: Fields) -> Iterator[ast.expr]:
    node = site.node
    if isinstance(node, ast.Dict):
        for left in _without(list(zip(node.keys, node.values, strict=True))):
            yield ast.Dict([k for k, _ in left], [v for _, v in left])
        for values in _swapped(node.values, lambda one, two: type(one) is type(two)):
            yield _but(node, values=values)
    elif isinstance(node, ast.Set) or (isinstance(node, ast.Tuple | ast.List) and isinstance(node.ctx, ast.Load)):
        yield from (_but(node, elts=left) for left in _without(node.elts))
        unordered = (
            isinstance(node, ast.Set)
            or isinstance(site.parent, ast.Compare | ast.ExceptHandler)
            or _any_of(site.parent)
        )
        yield from (_but(node, elts=elts) for elts in ([] if unordered else _swapped(node.elts, _names)))


def _calls(site: Site, _fields: Fields) -> Iterator[ast.expr]:
    node = site.node
    if not isinstance(node, ast.Call):
        return
    if isinstance(node.func, ast.Name) and node.func.id in TWIN:
        yield _but(node, func=_but(node.func, id=TWIN[node.func.id]))
    if isinstance(node.func, ast.Attribute) and node.func.attr in TWIN:
        yield _but(node, func=_but(node.func, attr=TWIN[node.func.attr]))
    if ast.unparse(node.func) == "sorted" and "reverse" not in {k.arg for k in node.keywords}:
        yield _but(node, keywords=[*node.keywords, ast.keyword("reverse", ast.Constant(value=True))])
    if ast.unparse(node.func) != "suppress":
        yield from (_but(node, args=args) for args in _swapped(node.args, _names))
    for at, keyword in enumerate(node.keywords):
        if keyword.arg and keyword.arg != GUARD:
            yield _but(node, keywords=[*node.keywords[:at], *node.keywords[at + 1 :]])
    for values in _swapped([k.value for k in node.keywords if k.arg], _names):
        named = iter(values)
        yield _but(node, keywords=[ast.keyword(k.arg, next(named)) if k.arg else k for k in node.keywords])


def _places(site: Site, _fields: Fields) -> Iterator[ast.expr]:
    """Yield what takes out a condition, or gives nothing in place of a result."""
    if CONDITIONS.get(type(site.parent)) == site.role:
        yield from (ast.Constant(value=True), ast.Constant(value=False))
    elif isinstance(site.parent, ast.Return):
        kind = site.returns.split("[")[0]
        empty = "None" if site.returns.endswith("| None") else EMPTY.get(kind, "")
        if kind == "bool":
            yield ast.UnaryOp(ast.Not(), site.node)
        elif empty and ast.unparse(site.node) != empty:
            yield ast.parse(empty, mode="eval").body
    elif isinstance(site.parent, ast.Expr) and isinstance(site.node, ast.Yield | ast.YieldFrom):
        yield ast.YieldFrom(ast.Tuple([], ast.Load()))


OPERATORS = (_operators, _constants, _attributes, _literals, _calls, _places)


# --- from a source to its mutants ----------------------------------------------------------


def alike_fields(trees: Iterable[ast.AST]) -> dict[str, tuple[str, ...]]:
    """Return the neighbours of each field of a record that have its type (``rl`` beside ``mdl``)."""
    near: dict[str, set[str]] = {}
    for node in (n for tree in trees for n in ast.walk(tree) if isinstance(n, ast.ClassDef)):
        fields = [s for s in node.body if isinstance(s, ast.AnnAssign)]
        for one, two in pairwise(fields):
            if ast.unparse(one.annotation) == ast.unparse(two.annotation):
                near.setdefault(ast.unparse(one.target), set()).add(ast.unparse(two.target))
                near.setdefault(ast.unparse(two.target), set()).add(ast.unparse(one.target))
    return {name: tuple(sorted(others)) for name, others in sorted(near.items())}


def _alike(one: str, two: str) -> int:
    """Return how many characters are the same at the beginning."""
    return next((at for at, (a, b) in enumerate(zip(one, two, strict=False)) if a != b), min(len(one), len(two)))


def _shown(old: str, new: str) -> tuple[str, str]:
    """Return two texts short of what they share, but for a few words around the change."""
    head = max(_alike(old, new) - CONTEXT, 0)
    tail = max(_alike(old[:head:-1], new[:head:-1]) - CONTEXT, 0)
    parts = [("…" if head else "") + t[head : len(t) - tail] + ("…" if tail else "") for t in (old, new)]
    return parts[0], parts[1]


def mutants(file: str, source: bytes, fields: Fields) -> Iterator[Mutant]:
    """Yield every change of a source that the operators know."""
    starts = [0]
    for line in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    tree = ast.parse(source)
    read = {n.attr for n in ast.walk(tree) if isinstance(n, ast.Attribute)}
    fields = {name: tuple(o for o in others if o in read) for name, others in fields.items()}
    for site in _sites(tree):
        node, old = site.node, ast.unparse(site.node)
        span = (starts[node.lineno - 1] + node.col_offset, starts[node.end_lineno - 1] + node.end_col_offset)
        for operator in OPERATORS:
            for changed in operator(site, fields):
                new = ast.unparse(changed)
                before, after = _shown(old, new)
                yield Mutant(file, node.lineno, site.statement, site.where, before, after, span, old, new)
