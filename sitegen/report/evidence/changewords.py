"""What changed from the previous revision, in sentences that a cover letter can carry."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from sitegen.compute.evidence.difference import VALUE_KINDS, Change, Difference
from sitegen.compute.evidence.effects import Crossing, EndChange
from sitegen.compute.evidence.overlap import Overlap
from sitegen.compute.evidence.revised import Revised
from sitegen.compute.text.claims import CLAIMING
from sitegen.report.evidence.changeresults import (
    Reader,
    outside,
    provenance,
    reader_for,
    result_text,
    sentence_part,
)
from sitegen.report.evidence.changesshown import may_tell_changes
from sitegen.report.write.context import Context
from sitegen.report.write.words import count_words, lexicon, say, word
from sitegen.report.write.words import counted as in_numbers
from sitegen.voice import ENGLISH, thousands, voice, worded

MOST_TOLD = 5
"""How many results a sentence names one by one; of more it gives counts by kind."""
MOST_NAMED = 3
"""How many compounds, points or numbers of the text a sentence names; of more it gives the count."""


def change_sentences(context: Context, found: Difference) -> tuple[str, ...]:
    """Return sentences on what changed, the most important first; none where the copy may not tell of changes."""
    if not may_tell_changes(context.survey.settings.publish):
        return ()
    return sentences(found, reader_for(context, found))


def sentences(found: Difference, reader: Reader) -> tuple[str, ...]:
    """Return what :func:`change_sentences` does for a reader, without a report."""
    if found.overlap.apart:
        return round_sentences(found.overlap)
    if not found.changes:
        return (say("changes.nothing"), *_finding_sentence(found, reader))
    return (
        *_result_sentences(found, reader),
        *_effect_sentences(found),
        *_level_sentences(found),
        _conclusions(found),
        *_other_sentences(found, reader),
        *_finding_sentence(found, reader),
    )


def round_sentences(shared: Overlap) -> tuple[str, ...]:
    """Say that two folders are two rounds, by what they have in common, and how rounds are compared."""
    return say("changes.rounds", shared=shared), say("changes.rounds_hint")


def counted(number: int, kind: str) -> str:
    """Write a number with its noun as it opens a sentence, up to nine in words: ``One result``.

    Where a number agrees with its noun it is always written in digits.
    """
    one, many = lexicon("labels")["changed_thing"][kind]
    in_words = number < 10 and voice().language == ENGLISH
    told = word("number", str(number)) if in_words else thousands(f"{number:,}")
    return f"{told} {one if number == 1 else many}"


# --- results ---------------------------------------------------------------------------------


def _result_sentences(found: Difference, reader: Reader) -> Iterator[str]:
    shown = [one for one in found.results if reader.may_see(one)]
    apart = outside(found)
    if not shown:
        yield say("changes.no_result", apart=apart)
    elif len(shown) <= MOST_TOLD:
        yield _few(found, shown, reader)
    else:
        yield from _many(found, shown, reader)
    hidden = len(found.results) - len(shown)
    if hidden:
        yield say("changes.hidden", count=hidden)
    if apart:
        yield say("changes.apart", count=apart)


def _few(found: Difference, shown: Sequence[Revised], reader: Reader) -> str:
    """Name each result; where all come of one file for one reason, these are said once."""
    behind = [provenance(found, one, reader) for one in shown]
    parts = [sentence_part(one, found.names, reader.display) for one in shown]
    common = behind[0] if len(set(behind)) == 1 else None
    if common is None:
        parts = [say("changes.part_behind", part=part, behind=one) for part, one in zip(parts, behind, strict=True)]
    return say("changes.few", count=counted(len(shown), "result"), parts=parts, behind=common)


def _many(found: Difference, shown: Sequence[Revised], reader: Reader) -> Iterator[str]:
    """Give counts by kind, the largest first, the value that moved farthest, and what is on record of reasons."""
    kinds = Counter(one.kind for one in shown)
    counts = [f"{thousands(f'{count:,}')} {word('result_kind', kind)}" for kind, count in kinds.most_common()]
    yield say("changes.many", count=counted(len(shown), "result"), counts=counts)
    moved = max((one for one in shown if one.factor), key=lambda one: one.moved, default=None)
    if moved:
        yield say("changes.farthest", told=result_text(moved, found.names, reader.display))
    behind = [provenance(found, one, reader) for one in shown]
    files = list(dict.fromkeys(one.where for one in behind))
    yield say("changes.many_behind", files=files, most=MOST_NAMED, reasons=sum(bool(b.reason) for b in behind))


# --- what they affect ------------------------------------------------------------------------


def _effect_sentences(found: Difference) -> Iterator[str]:
    affected = found.effects
    told = [*_ends(found, affected.ends), *_maps(found)]
    if affected.tokens:
        told.append(say("changes.tokens", tokens=affected.tokens, most=MOST_NAMED - 1))
    if told:
        yield say("changes.affects", told=_listed(told))
    else:
        yield say("changes.affects_nothing", mapped=affected.drawn)


def _ends(found: Difference, ends: Sequence[EndChange]) -> Iterator[str]:
    if len(ends) > MOST_NAMED:
        yield say("changes.many_ends", compounds=len({end.analyte_id for end in ends}))
        return
    for end in ends:
        name = found.names.get(end.analyte_id, end.analyte_id)
        yield say("changes.end", end=end, compound=name, medium=word("range_medium", end.medium))


def _maps(found: Difference) -> Iterator[str]:
    maps = found.effects.maps
    if maps:
        names = [found.names.get(name, name) for name in maps]
        yield say("changes.maps", names=names, listed=_listed(names), drawn=found.effects.drawn, most=MOST_NAMED)


def _level_sentences(found: Difference) -> Iterator[str]:
    """Say what crosses a level; nothing where neither revision compares anything with one."""
    crossings = found.effects.crossings
    if crossings:
        for above in (True, False):
            told = [_crossing(found, one) for one in crossings if one.above is above]
            if told:
                yield say("changes.crossings", above=above, told=told, most=MOST_NAMED)
    elif found.effects.compared:
        yield say("changes.no_crossing")


def _crossing(found: Difference, one: Crossing) -> str:
    return say("changes.at", compound=found.names.get(one.analyte_id, one.analyte_id), point=one.location_id)


def _conclusions(found: Difference) -> str:
    """Say of the sentences that claim something how many are judged as before, otherwise, or not by rule."""
    now = [one for one in found.statements if one.after]
    states = Counter(one.state for one in now)
    return say(
        "changes.conclusions",
        sections=_listed([word("section", name).lower() for name in CLAIMING if name in {s.section for s in now}]),
        total=len(now),
        same=states["same"],
        otherwise=states["changed"],
        unjudged=states["unjudged"],
        rewritten=sum(not one.same_words for one in now),
        gone=len(found.statements) - len(now),
        touched=sum(one.touched for one in now),
    )


def _listed(names: Sequence[str]) -> str:
    return say("changes.listed", names=names)


# --- beside results --------------------------------------------------------------------------


def _other_sentences(found: Difference, reader: Reader) -> Iterator[str]:
    about = {change.key for one in found.results for change in one.changes}
    others = [change for change in found.changes if change.kind not in VALUE_KINDS and change.key not in about]
    told = [*_points(others, reader), *_texts(others)]
    if reader.team:
        told += _records(others)
    if told:
        yield say("changes.others", told=told)


def _points(others: Sequence[Change], reader: Reader) -> Iterator[str]:
    for kind in ("moved", "added", "removed"):
        mine = [c for c in others if c.kind == kind and c.key.startswith("locations:")]
        names = [_moved(c) for c in mine if c.location_id not in reader.hidden]
        if mine:
            count = in_numbers(len(mine), worded("point"))
            yield say("changes.points", kind=kind, count=count, names=names, most=MOST_NAMED)


def _moved(change: Change) -> str:
    by = f"{change.moved_m:.2f} m" if change.moved_m is not None else ""
    return say("changes.moved", point=change.location_id, by=by)


def _texts(others: Sequence[Change]) -> Iterator[str]:
    names = [word("section", change.subject).lower() for change in others if change.kind == "text"]
    if names:
        yield say("changes.texts", listed=_listed(names))


def _records(others: Sequence[Change]) -> Iterator[str]:
    """Yield counts of what else changed, the largest first; these are matters of the team."""
    kinds = Counter(c.kind for c in others if c.kind not in ("moved", "text") and not _of_points(c))
    for kind, count in kinds.most_common():
        yield count_words(count, *lexicon("labels")["changed_thing"][kind])


def _of_points(change: Change) -> bool:
    return change.kind in ("added", "removed") and change.key.startswith("locations:")


def _finding_sentence(found: Difference, reader: Reader) -> Iterator[str]:
    if reader.team:
        yield say("changes.findings", opened=len(found.opened), closed=len(found.closed))
