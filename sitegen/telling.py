"""How the terminal tells findings: one entry for each cause, the worst last, so that it is on the screen.

Every line is printed whole: a terminal may break it on the screen, a copy of it has no break.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain

from rich.console import Console
from rich.text import Text

from sitegen.checks.causes import SCATTERED, Cause, causes, key_to_decide, telling_notes
from sitegen.compute.field.stage import Progress, progress
from sitegen.findings.problems import Finding, RowNames, Severity, visible
from sitegen.project.schema import SETTINGS_FILE
from sitegen.project.survey import Survey
from sitegen.project.tables import Disposition

STYLES = {"stop": "bold red", "hold": "bold yellow", "flag": "cyan", "note": "dim"}
_HOW_TO_DECIDE = (
    "findings that cannot be corrected are decided in review/dispositions.csv by key; "
    "sitegen check --draft-dispositions FILE writes the rows"
)
_INDENT = 16
_BLANK = "\ue000"
"""Stands for a blank at which no line may end; of a text to tell no such character is left."""

_WIDEST = 110
"""Lines are no longer, words, paths and keys aside: an eye loses its way in longer ones."""


def tell(
    console: Console,
    findings: Sequence[Finding],
    names: RowNames,
    decisions: Mapping[str, Disposition],
    *,
    notes: bool = False,
    each: bool = False,
) -> None:
    """Print findings by cause, stops last, then their counts; ``each`` prints every one of them."""
    shown = list(_from_the_mildest(findings, notes=notes))
    entries = causes(shown, each=each)
    stops = [cause for cause in entries if cause.severity is Severity.STOP]
    others = [cause for cause in entries if cause.severity is not Severity.STOP]
    width, hidden = min(console.width, _WIDEST), sum(one.count for one in findings) - sum(one.count for one in shown)
    parts = (
        *(_entry(cause, names, decisions, width) for cause in others),
        (Text(line) for hint in _hints(entries, decisions, hidden) for line in _wrapped(hint, width)),
        *(_entry(cause, names, decisions, width) for cause in stops),
        [Text(summary(findings))],
    )
    for line in chain.from_iterable(parts):
        console.print(line, soft_wrap=True)


def _hints(entries: Iterable[Cause], decisions: Mapping[str, Disposition], hidden: int) -> Iterator[str]:
    """Yield what may be done about findings that stay, and about notes that are not shown."""
    if any(cause.key and not _decided_by(cause, decisions) for cause in entries):
        yield _HOW_TO_DECIDE
    if hidden:
        yield f"{hidden} note(s) not shown; sitegen check --notes shows them"


def so_far(survey: Survey | None) -> str:
    """Say how far a survey has come while nothing of it is at the laboratory; "" from then on."""
    return _so_far(progress(survey)) if survey else ""


def _so_far(made: Progress) -> str:
    """Write how far a survey has come in one line.

    >>> _so_far(Progress("planned", 24, 0, 0)), _so_far(Progress("in_field", 24, 12, 3))
    ('planned: 24 points, no sampler installed yet', 'in the field: 12 of 24 points installed, 3 retrieved')
    >>> _so_far(Progress("returned", 24, 24, 24))
    ''
    """
    points = f"{made.points} {'point' if made.points == 1 else 'points'}"
    if made.stage == "planned":
        return f"planned: {points}, no sampler installed yet"
    return f"in the field: {made.placed} of {points} installed, {made.retrieved} retrieved" * (made.stage == "in_field")


def summary(findings: Iterable[Finding]) -> str:
    """Count findings by severity in one line.

    >>> summary([])
    'findings: 0 stop, 0 hold, 0 flag, 0 note'
    """
    every = list(findings)
    counts = {severity: sum(one.count for one in every if one.severity is severity) for severity in Severity}
    return "findings: " + ", ".join(f"{count} {severity.value}" for severity, count in counts.items())


def _from_the_mildest(findings: Sequence[Finding], *, notes: bool) -> Iterator[Finding]:
    """Yield flags, holds, the notes that bear on a stop, and stops; other notes first, where they are wanted."""
    telling = telling_notes(findings)
    if notes:
        yield from (finding for finding in findings if finding.severity is Severity.NOTE and finding not in telling)
    for severity in (Severity.FLAG, Severity.HOLD):
        yield from (finding for finding in findings if finding.severity is severity)
    yield from telling
    yield from (finding for finding in findings if finding.severity is Severity.STOP)


def _entry(cause: Cause, names: RowNames, decisions: Mapping[str, Disposition], width: int) -> Iterator[Text]:
    """Yield the lines of one cause."""
    severity = cause.severity.value
    count = f": {cause.count} findings" if cause.count > 1 else ""
    yield Text.assemble((severity, STYLES[severity]), f"  {cause.code}{count}")
    paths = {finding.where.file for finding in cause.findings if " " in finding.where.file}
    for label, text in _parts(cause, names):
        yield from _labelled(label, visible(text), paths, width)
    for at, key in enumerate(decided := _decided_by(cause, decisions)):
        yield _line("" if at else "decided", visible(key))
    if cause.key and len(decided) == 0:
        yield _line("key", visible(cause.key))


def _parts(cause: Cause, names: RowNames) -> Iterator[tuple[str, str]]:
    """Yield the parts of an entry: what all of its findings have in common once, what they have not with each."""
    first, alone = cause.findings[0], len(cause.findings) == 1
    name = _name(first, names) if alone else ""
    yield "where", f"{cause.place} ({name})" if name else cause.place
    same_wish = len({finding.expected for finding in cause.findings}) == 1
    same_help = len({finding.do for finding in cause.findings}) == 1
    for at, finding in enumerate(cause.examples):
        about = "" if alone else f"{_about(finding, names)}: "
        wish = "" if same_wish else f"; expected {finding.expected}"
        yield "" if at else "found", f"{about}{finding.found}{wish}"
        if not same_help:
            yield "", f"  do: {finding.do}"
    if rest := cause.count - sum(finding.count for finding in cause.examples):
        yield "", f"and {rest} more; --all lists each"
    if same_wish:
        yield "expected", first.expected
    if same_help:
        yield "do", first.do


def _decided_by(cause: Cause, decisions: Mapping[str, Disposition]) -> list[str]:
    """Return the keys of the decisions on all of a cause, none while one of its findings has none."""
    rows = [decisions.get(key_to_decide(finding)) for finding in cause.findings]
    return list(dict.fromkeys(row.finding_key for row in rows if row is not None)) if None not in rows else []


def _about(finding: Finding, names: RowNames) -> str:
    """Name one of several findings: by its row and what that is about, by its setting, or by its file."""
    where, name = finding.where, _name(finding, names)
    if finding.code in SCATTERED:
        return str(where)
    if where.file == SETTINGS_FILE and where.column:
        return where.column
    row = f"row {where.row}" if where.row is not None else ""
    return ", ".join(filter(None, (row, name))) or where.column or where.file


def _name(finding: Finding, names: RowNames) -> str:
    return names.get((finding.where.file, finding.where.row), "") if finding.where.row is not None else ""


def _labelled(label: str, text: str, paths: Iterable[str], width: int) -> Iterator[Text]:
    """Yield the lines of a text with a label before the first; no word is broken, and no path at its blanks."""
    for path in paths:
        text = text.replace(path, path.replace(" ", _BLANK))
    for at, line in enumerate(_wrapped(text, width - _INDENT)):
        yield _line("" if at else label, line.replace(_BLANK, " "))


def _wrapped(text: str, width: int) -> list[str]:
    """Return the lines of a text: none is wider, unless a single word is."""
    return textwrap.wrap(text, max(width, 20), break_long_words=False, break_on_hyphens=False)


def _line(label: str, text: str) -> Text:
    return Text.assemble((f"      {label:<{_INDENT - 6}}", "dim"), text)
