"""Publish levels: the one place that says what an output may show, by allow-list.

A class of information is shown where its level allows it and the project does not
withhold it. What is not allowed is taken out before the report is put together
(:func:`publishable`), or replaced in all of it (:func:`relabel`), so that no page has to
think of it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

from sitegen.compute.custody.functions import role_words
from sitegen.compute.text.sentences import any_of
from sitegen.findings.problems import Finding, Where
from sitegen.project.places import table_at
from sitegen.project.schema import PUBLISH_CLASSES
from sitegen.project.settings import PublishPart
from sitegen.project.survey import Survey, SurveyTable, Withheld
from sitegen.project.tables import Location
from sitegen.report.write.remarks import OPEN
from sitegen.report.write.words import escape_markdown, lexicon, say

CLASSES = PUBLISH_CLASSES
ALLOWED: Mapping[str, frozenset[str]] = {
    "internal": frozenset(CLASSES),
    "client": frozenset({"changed_results", "field_comments", "role_codes", "location_ids"}),
    "public": frozenset(),
}
FIELD_COMMENTS: Mapping[str, tuple[str, ...]] = {
    "locations": ("comment",),
    "samplers": ("note",),
    "deployments": ("comment",),
    "return_bags": ("note",),
    "shipments": ("receipt_note",),
    "custody": ("comment",),
    "products": ("comment",),
}
MIN_GUARDED_CHARS = 12
"""A withheld comment shorter than this would be found in other sentences."""

T = TypeVar("T")


def allowed_classes(stated: PublishPart) -> frozenset[str]:
    """Return the classes of information that an output may show."""
    return ALLOWED[stated.level] - frozenset(stated.withhold)


def withheld(stated: PublishPart) -> tuple[str, ...]:
    """Return the classes that are left out, and whatever else the project withholds by name."""
    shows = allowed_classes(stated)
    return (*(name for name in CLASSES if name not in shows), *(n for n in stated.withhold if n not in CLASSES))


def publishable(survey: Survey) -> Survey:
    """Return the survey as far as its output may show it; the same one where all may be shown.

    The content digest stays that of the whole folder.
    """
    shows = allowed_classes(survey.settings.publish)
    if shows == frozenset(CLASSES):
        return survey
    tables = dict(survey.tables)
    lacks = Withheld()
    if "field_comments" not in shows:
        remarks = (text for name, columns in FIELD_COMMENTS.items() for text in _filled(survey, name, columns))
        lacks = replace(lacks, remarks=sum(1 for _ in remarks))
        for name, columns in FIELD_COMMENTS.items():
            tables[name] = _masked(tables[name], columns)
    if "review_comments" not in shows:
        states = survey.frame("comments")["state"]
        lacks = replace(lacks, comments=len(states), open_comments=int(states.isin(OPEN).sum()))
        tables["comments"] = tables["comments"].kept(states.isna())
    if "uncleared_photos" not in shows:
        tables["photos"] = tables["photos"].kept(survey.frame("photos")["publish"] == "yes")
    if "role_codes" not in shows:
        lacks = replace(lacks, roles=role_words(survey, lexicon("labels")["function"]))
    features = survey.features
    if "private_features" not in shows:
        features = tuple(feature for feature in features if feature.public)
        hidden = [feature.name for feature in survey.features if feature.kind == "building" and not feature.public]
        lacks = replace(lacks, buildings=len(hidden))
        tables["locations"] = _renamed(tables["locations"], "building", _numbered(hidden))
    return replace(survey, tables=tables, features=features, withheld=lacks)


def _filled(survey: Survey, name: str, columns: Iterable[str]) -> list[str]:
    return [text for column in columns for text in survey.frame(name)[column] if text]


def _masked(table: SurveyTable, columns: tuple[str, ...]) -> SurveyTable:
    """Put a word in place of each remark, so that a cell without a remark stays empty and is told apart."""
    mask = say("publish.remark")

    def masked(cells: Iterable[str]) -> list[str]:
        return [mask if text else "" for text in cells]

    frame = table.frame.assign(**{name: masked(table.frame[name]) for name in columns if name in table.frame})
    received = {name: masked(cells) if name in columns else cells for name, cells in table.received.items()}
    return replace(table, frame=frame, received=received)


def _numbered(names: Iterable[str]) -> dict[str, str]:
    """Return what stands for the names of withheld buildings, so that two of them are told apart."""
    known = dict.fromkeys(name for name in names if name)
    return {name: say("publish.building", number=number) for number, name in enumerate(known, start=1)}


def _renamed(table: SurveyTable, column: str, instead: Mapping[str, str]) -> SurveyTable:
    """Put other texts in place of some of a column."""

    def renamed(cells: Iterable[str]) -> list[str]:
        return [instead.get(text, text) for text in cells]

    frame = table.frame.assign(**{column: renamed(table.frame[column])})
    received = {name: renamed(cells) if name == column else cells for name, cells in table.received.items()}
    return replace(table, frame=frame, received=received)


def published_findings(findings: tuple[Finding, ...], stated: PublishPart) -> tuple[Finding, ...]:
    """Return the findings without the words of withheld comments that they quote."""
    shows = allowed_classes(stated)
    found = findings
    if "field_comments" not in shows:
        columns = {column for names in FIELD_COMMENTS.values() for column in names}
        found = tuple(_unquoted(f, "publish.unquoted") if table_at(f.where)[1] in columns else f for f in found)
    if "review_comments" not in shows:
        found = tuple(_unquoted(f, "publish.unquoted_comment") if _in_comments(f.where) else f for f in found)
    return found


def _in_comments(where: Where) -> bool:
    spec, _ = table_at(where)
    return spec is not None and spec.name == "comments"


def _unquoted(finding: Finding, words: str) -> Finding:
    where = Where(finding.where.file, finding.where.row, finding.where.column)
    return replace(finding, where=where, found=say(words))


def guarded_texts(survey: Survey) -> tuple[str, ...]:
    """Return the texts of the record that no file of the output may hold: comments withheld."""
    shows = allowed_classes(survey.settings.publish)
    texts: set[str] = set()
    if "field_comments" not in shows:
        for name, columns in FIELD_COMMENTS.items():
            texts |= set(_filled(survey, name, columns))
    if "review_comments" not in shows:
        texts |= {text for column in ("text", "response") for text in survey.frame("comments")[column]}
    return tuple(sorted(text for text in texts if len(text) >= MIN_GUARDED_CHARS))


def substitutes(survey: Survey) -> dict[str, str]:
    """Return what a published survey prints instead: a role's function for its code, a point's label for its id."""
    shows = allowed_classes(survey.settings.publish)
    found: dict[str, str] = {}
    if "role_codes" not in shows:
        found |= survey.withheld.roles
    if "location_ids" not in shows:
        rows = survey.rows(Location)
        found |= {r.location_id: r.public_label for r in rows if r.public_label}
    return {old: new for old, new in sorted(found.items()) if old != new}


def relabel(value: T, instead: Mapping[str, str]) -> T:
    """Replace whole words in every text of a record, in all that it holds, escaped Markdown included.

    A word of letters and figures, as most ids are, is replaced within longer names as well
    (``table-SG-1``, ``SG-1_2.jpg``); any other is left alone beside a hyphen, as dates have them.

    >>> relabel(("SG-1 by FS-1", 3, "SG-12"), {"SG-1": "P 1", "FS-1": "a role"})
    ('P 1 by a role', 3, 'SG-12')
    >>> relabel(("results-SG-1", "2025-10-24"), {"SG-1": "P 1", "10": "P 2"})
    ('results-P 1', '2025-10-24')
    """
    if not instead:
        return value
    forms = dict(instead) | {escape_markdown(old): escape_markdown(new) for old, new in instead.items()}
    telling = [word for word in forms if re.search(r"[^\W\d_]", word) and re.search(r"\d", word)]
    pattern = re.compile(rf"(?<![^\W_])(?:{any_of(telling)})(?![^\W_])|(?<![\w-])(?:{any_of(forms)})(?![\w-])")
    done: T = _walked(value, lambda text: pattern.sub(lambda match: forms[match[0]], text))
    return done


def _walked(value: Any, change: Callable[[str], str]) -> Any:  # noqa: ANN401 - a record of any kind
    if isinstance(value, str):
        return change(value)
    if isinstance(value, tuple):
        parts = [_walked(part, change) for part in value]
        return type(value)(*parts) if hasattr(value, "_fields") else tuple(parts)
    if isinstance(value, Mapping):
        return {_walked(key, change): _walked(inner, change) for key, inner in value.items()}
    if isinstance(value, list):
        return [_walked(part, change) for part in value]
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{f.name: _walked(getattr(value, f.name), change) for f in fields(value)})
    return value
