"""Surveys of which one table says something else, to see which printed numbers notice."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import pandas as pd

from sitegen.project.schema import Kind
from sitegen.project.survey import Survey, SurveyTable

NUMBERS = (Kind.NUMBER, Kind.INTEGER)
WORDS = (Kind.TEXT, Kind.CHOICE, Kind.FLAG, Kind.DATE)


def fewer_rows(table: SurveyTable) -> SurveyTable:
    """Return a table without every third row, from the second on."""
    kept = [at for at in range(len(table.frame)) if at % 3 != 1]
    received = {name: [texts[at] for at in kept] for name, texts in table.received.items()}
    return replace(table, frame=table.frame.iloc[kept].reset_index(drop=True), received=received)


def other_numbers(table: SurveyTable) -> SurveyTable:
    """Return a table with its numbers half as large again, and its times 37 minutes later."""
    frame = table.frame.copy()
    for column in table.spec.columns:
        if column.kind in NUMBERS:
            frame[column.name] *= 1.5
        elif column.kind is Kind.TIME:
            frame[f"{column.name}_utc"] += 37
    return replace(table, frame=frame)


def moved_words(table: SurveyTable) -> SurveyTable:
    """Return a table in which each row has the words of the row above it; keys, ids and detection stay with values."""
    frame = table.frame.copy()
    for column in table.spec.columns:
        if (
            column.kind in WORDS
            and column.name not in table.spec.key
            and not column.required
            and column.name != "detected"
        ):
            texts = frame[column.name].tolist()
            frame[column.name] = pd.Series([*texts[-1:], *texts[:-1]], dtype=object)
    return replace(table, frame=frame)


WAYS: Mapping[str, Callable[[SurveyTable], SurveyTable]] = {
    "fewer": fewer_rows,
    "numbers": other_numbers,
    "words": moved_words,
}


def perturbed(survey: Survey, name: str, way: str) -> Survey:
    """Return a survey of which one table says something else."""
    return replace(survey, tables={**survey.tables, name: WAYS[way](survey.tables[name])})
