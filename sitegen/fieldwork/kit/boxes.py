"""The boxes of a form, in the words of the folder format: what is ticked outdoors is what the tables take."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeAlias

from sitegen.project.schema import Column, Kind
from sitegen.project.tables import TABLE

Node: TypeAlias = dict[str, object]
"""Plain data for a template."""

FLAG = ("yes", "no")
"""What a column of the kind "yes or no" takes."""


def box_words(table: str, columns: Iterable[str]) -> dict[str, Node]:
    """Return, for columns of a table, the caption of each and its choices as the format words them.

    >>> box_words("deployments", ["moisture"])["moisture"]["choices"][0]
    {'value': 'dry', 'shown': 'dry'}
    """
    return {name: _box(TABLE[table].column(name)) for name in columns}


def _box(column: Column) -> Node:
    words = FLAG if column.kind is Kind.FLAG else column.choices
    return {"caption": caption(column), "choices": [{"value": word, "shown": shown(word)} for word in words]}


def caption(column: Column) -> str:
    """Return the words over a box: the column's own name, with its unit.

    >>> caption(TABLE["deployments"].column("depth_ft")), caption(TABLE["deployments"].column("hole_method"))
    ('depth (ft)', 'hole method')
    """
    if column.unit and column.name.endswith(f"_{column.unit}"):
        return f"{shown(column.name.removesuffix(f'_{column.unit}'))} ({column.unit})"
    return shown(column.name)


def shown(word: str) -> str:
    """Return a word of the format as it is printed: with blanks for its lines.

    >>> shown("rotary_hammer")
    'rotary hammer'
    """
    return word.replace("_", " ")


def number(value: float) -> str:
    """Return a number as a person writes it, "" for none.

    >>> number(3.0), number(float("nan"))
    ('3', '')
    """
    return f"{value:g}" if value == value else ""  # noqa: PLR0124 - blank numbers are NaN
