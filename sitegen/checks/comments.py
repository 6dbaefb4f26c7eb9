"""Field comments: words in them that a reader of the results should see."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from sitegen.checks.catalogue import find
from sitegen.checks.rows import first_rows, surplus
from sitegen.findings.problems import Finding, Severity, Touch
from sitegen.project.survey import Survey
from sitegen.project.tables import Deployment
from sitegen.voice import Voice, voice, worded


@dataclass(frozen=True, slots=True)
class WatchWord:
    """Words to watch for: a pattern, what they are about, and why they matter."""

    pattern: re.Pattern[str]
    about: str
    reason: str


def watch_words() -> tuple[WatchWord, ...]:
    """Return the words of ``sitegen/data/watch_words.toml``, those about the sampler first.

    In another language its own stand beside each: a crew may write in either.
    """
    return _watch_words(voice())


@cache
def _watch_words(speaks: Voice) -> tuple[WatchWord, ...]:
    lists = [
        tomllib.loads(files("sitegen").joinpath(f"{folder}/watch_words.toml").read_text("utf-8"))["words"]
        for folder in speaks.data
    ]
    return tuple(
        WatchWord(
            re.compile(rf"\b(?:{'|'.join(entry['pattern'] for entry in same)})\b", re.IGNORECASE),
            same[-1]["about"],
            worded(same[-1]["reason"]),
        )
        for same in zip(*lists, strict=True)
    )


def first_word(comment: str) -> tuple[WatchWord, str] | None:
    """Return the first entry whose words stand in a comment, and those words.

    >>> first_word("Hole flooded overnight.")[1]
    'flooded'
    >>> first_word("Unopened, dry.") is None
    True
    """
    for word in watch_words():
        match = word.pattern.search(comment)
        if match:
            return word, match[0]
    return None


def harm_in_comments(survey: Survey) -> Iterator[Finding]:
    """A comment that tells of harm stands beside a condition that says so."""
    table = survey.tables["deployments"]
    hits = {text: first_word(text) for text in table.frame["comment"].unique()}
    harm = table.frame["comment"].map(lambda text: hits[text] is not None).astype(bool)
    for row in first_rows(table, harm, Deployment):
        hit = hits[row.comment]
        if hit is not None:
            yield _harm(row, *hit)
    yield from surplus("comment-watch-word", table, harm, "comment")


def _harm(row: Deployment, word: WatchWord, words: str) -> Finding:
    against = word.about == "sampler" and row.condition in ("", "intact")
    quoted = row.comment if len(row.comment) <= 120 else row.comment[:117] + "…"
    return find(
        "comment-watch-word",
        row.sampler_id,
        row.origin.where("comment"),
        worded(
            "the field note “{quoted}” includes “{words}”: {reason}", quoted=quoted, words=words, reason=word.reason
        ),
        worded("the same in the column condition")
        if against
        else worded("field note to be considered with the result"),
        do=worded("set condition to what was found, or state in the report why it is intact") if against else "",
        kind="sampler",
        touches=[Touch(row.sampler_id)],
        severity=Severity.FLAG if against else Severity.NOTE,
    )


RULES = (harm_in_comments,)
