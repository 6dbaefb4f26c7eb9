"""Docstrings as Markdown: what a function, a class or a record says of itself, with its signature."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Iterator
from enum import EnumType
from functools import cached_property
from typing import Any

from sitegen.project.reads import computed

_NAME = re.compile(r":(?:meth|attr|class|func|mod):`~?([^`]+)`|``([^`]+)``|`([^`]+)`")
_WIDTH = 88


class _Bare(str):
    """An annotation that is written as in the source, without quotes."""

    __slots__ = ()
    __repr__ = str.__str__


def markdown(text: str) -> str:
    r"""Return a docstring as Markdown: names as code, examples as blocks of Python, and nothing that is HTML.

    >>> markdown("Ask :attr:`Survey.sound`, or ``a <b>``, not <b>.")
    'Ask `Survey.sound`, or `a <b>`, not &lt;b>.'
    >>> markdown(">>> 1 + 1\n2").split()
    ['```python', '>>>', '1', '+', '1', '2', '```']
    """
    return "\n\n".join(map(_paragraph, re.split(r"\n\s*\n", inspect.cleandoc(text))))


def _paragraph(text: str) -> str:
    if text.startswith(">>>"):
        return f"```python\n{text}\n```"
    plain = text.replace("<", "&lt;")
    return _NAME.sub(lambda match: f"`{next(filter(None, match.groups()))}`".replace("&lt;", "<"), plain)


def signature(name: str, of: Callable[..., Any]) -> str:
    """Return how a function is called, or a record made, with types as in the source; a long one over several lines.

    >>> signature("signature", signature)
    'signature(name: str, of: Callable[..., Any]) -> str'
    """
    whole = inspect.signature(of)
    parameters = [p.replace(annotation=_bare(p.annotation)) for p in whole.parameters.values() if p.name != "self"]
    returned = "" if inspect.isclass(of) else f" -> {_bare(whole.return_annotation)}"
    line = f"{name}{inspect.Signature(parameters)}{returned}"
    if len(line) <= _WIDTH:
        return line
    lines = [f"    {parameter}," for parameter in parameters]
    named = [at for at, parameter in enumerate(parameters) if parameter.kind is parameter.KEYWORD_ONLY]
    if named:
        lines.insert(named[0], "    *,")
    return "\n".join([f"{name}(", *lines, f"){returned}"])


def _bare(annotation: object) -> object:
    """Return an annotation as it is written in the source; a named tuple has it in a wrapper."""
    return (
        _Bare(getattr(annotation, "__forward_arg__", annotation))
        if annotation is not inspect.Signature.empty
        else annotation
    )


def entry(name: str, of: Any, level: int = 2) -> Iterator[str]:  # noqa: ANN401 - whatever has a docstring
    """Yield the lines of a public thing under its heading: how it is called, what it says, its public members."""
    yield f"{'#' * level} `{name}` {{#{name.lower()}}}\n"
    yield f"```python\n{_call(name, of)}\n```\n"
    yield markdown(inspect.getdoc(of) or "") + "\n"
    for member, value in members(of) if inspect.isclass(of) else ():
        yield from entry(f"{name}.{member}", value, level + 1)


def _call(name: str, of: Any) -> str:  # noqa: ANN401
    """Return what stands for a thing in code: values, a base, a type or a signature."""
    if isinstance(of, EnumType):
        return "\n".join(f"{name}.{one.name}  # {one.value}" for one in of)
    if isinstance(of, type) and issubclass(of, Exception):
        return f"class {name}({of.__base__.__name__})"
    if made_by := _maker(of):
        return f"{name}: {made_by.__annotations__['return']}"
    return signature(name, of)


def _maker(of: object) -> Callable[..., Any] | None:
    """Return the function behind a property of any kind; None for what is no property."""
    match of:
        case property(fget=make) | cached_property(func=make):
            return make
        case computed():
            return of._make
    return None


def members(of: type) -> Iterator[tuple[str, Any]]:
    """Yield the public functions and properties that a class defines itself, by name, in their order.

    >>> from sitegen.findings.problems import Finding
    >>> [name for name, _ in members(Finding)]
    ['key', 'about', 'sort_key', 'line']
    """
    for name, value in vars(of).items():
        plain = value.__func__ if isinstance(value, staticmethod | classmethod) else value
        if not name.startswith("_") and (inspect.isfunction(plain) or _maker(plain)):
            yield name, plain
