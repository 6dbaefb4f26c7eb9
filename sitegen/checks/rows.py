"""Rows behind findings: the first of them by name, the rest by number, and what they touch."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TypeAlias

import numpy as np
import pandas as pd

from sitegen.checks.catalogue import find
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.field.exposure import FIELD_BLANK
from sitegen.findings.problems import Finding, Touch, Where
from sitegen.project.schema import SETTINGS_FILE
from sitegen.project.settings import line_of
from sitegen.project.survey import R, Survey, SurveyTable, rows
from sitegen.project.tables import Analyte, Departure
from sitegen.voice import worded

MAX_TOLD = 20
"""At most this many findings of one check are listed for one table; the rest are counted."""

Mask: TypeAlias = "pd.Series[bool]"


def first_numbers(mask: Mask) -> list[int]:
    """Return the numbers of the first rows where ``mask`` is True, from 0 and at most ``MAX_TOLD``."""
    at: list[int] = np.flatnonzero(mask.to_numpy(dtype=bool))[:MAX_TOLD].tolist()
    return at


def first_rows(table: SurveyTable, mask: Mask, of: type[R]) -> list[R]:
    """Return the first rows where ``mask`` is True, at most ``MAX_TOLD``, as records of ``of``."""
    at = first_numbers(mask)
    return rows(table.frame.iloc[at], of) if at else []


def numbered_rows(table: SurveyTable, mask: Mask, of: type[R]) -> Iterator[tuple[int, R]]:
    """Yield what :func:`first_rows` returns, each row with its number."""
    return zip(first_numbers(mask), first_rows(table, mask, of), strict=True)


def surplus(code: str, table: SurveyTable, mask: Mask, column: str) -> Iterator[Finding]:
    """Yield one finding for the rows that :func:`first_rows` left out, if there are any."""
    at = np.flatnonzero(mask.to_numpy(dtype=bool))[MAX_TOLD:]
    if len(at):
        yield find(
            code,
            f"{table.spec.name}+{column}+more",
            table.where(int(at[0]), column),
            worded("{count} more rows of this kind, starting here", count=len(at)),
            worded("none"),
            kind=table.spec.name,
            rows=table.frame["_row"].to_numpy()[at].tolist(),
        )


def enumeration(names: Iterable[str], most: int = 6) -> str:
    """Write names one after another, the first few of many.

    >>> enumeration(["b", "a"]), enumeration("abcdefgh", most=2)
    ('b, a', 'a, b and 6 more')
    """
    every: Sequence[str] = list(names)
    text = ", ".join(every[:most])
    return worded("{named} and {rest} more", named=text, rest=len(every) - most) if len(every) > most else text


def number_of(number: int, noun: str, plural: str = "") -> str:
    """Write a number of things.

    >>> number_of(1, "sampler"), number_of(3, "sampler"), number_of(2, "analysis", "analyses")
    ('1 sampler', '3 samplers', '2 analyses')
    """
    return f"{number} {worded(noun if number == 1 else plural or f'{noun}s')}"


def setting_where(survey: Survey, key: str) -> Where:
    """Return the place of a setting such as ``space.crs`` in project.toml."""
    content = survey.folder.content(SETTINGS_FILE) or b""
    return Where(SETTINGS_FILE, line_of(key, content.decode("utf-8-sig", "replace")), key)


def key_of(table: SurveyTable, at: int) -> str:
    """Return the key of a row, its columns joined by ``+``; "" where the table has no key."""
    return "+".join(str(table.frame[name].iloc[at]) for name in table.spec.key)


def of_samplers(survey: Survey, column: str, ids: pd.Series[str]) -> pd.Series[str]:
    """Return what samplers.csv has in a column for each of ``ids``, NaN where it doesn't list the sampler."""
    samplers = survey.frame("samplers").drop_duplicates("sampler_id")
    return ids.map(dict(zip(samplers["sampler_id"], samplers[column], strict=True))).astype(object)


def samples_a_point(survey: Survey) -> Mask:
    """Return which rows of deployments.csv are of samplers that sampled a point: all but field blanks."""
    samplers = survey.frame("samplers")
    blanks = samplers.loc[samplers["kind"] == FIELD_BLANK, "sampler_id"]
    return ~survey.frame("deployments")["sampler_id"].isin(blanks)


def touches_by_key(evaluation: Evaluation) -> dict[str, tuple[Touch, ...]]:
    """Return, for each finding key, the samplers whose numbers carry its mark."""
    found: dict[str, list[Touch]] = {}
    for sampler_id, marks in evaluation.marks.by_sampler.items():
        for mark in marks:
            found.setdefault(mark.key, []).append(Touch(sampler_id))
    return {key: tuple(touches) for key, touches in found.items()}


def compound_names(survey: Survey) -> dict[str, str]:
    """Return the printed name of each listed compound."""
    rows = survey.rows(Analyte)
    return {row.analyte_id: row.name or row.analyte_id for row in rows}


def departures(survey: Survey) -> dict[str, str]:
    """Return, for each point and sampler that a departure names, what is on record about it.

    Only rows that say the effect and who agreed count; the first row stands for an id.
    """
    about: dict[str, str] = {}
    for row in survey.rows(Departure):
        if row.effect and row.agreed_by_role:
            words = worded(
                "{deviation} states the effect ({effect}), agreed by {role}",
                deviation=row.deviation_id,
                effect=row.effect,
                role=row.agreed_by_role,
            )
            for name in ids_in(row.affected_ids):
                about.setdefault(name, words)
    return about


def ids_in(cell: str) -> list[str]:
    """Return the ids of a list cell.

    >>> ids_in("SG-01; SG-02;")
    ['SG-01', 'SG-02']
    """
    return [part.strip() for part in cell.split(";") if part.strip()]
