"""``sitegen map``: one map of a checked folder, to print alone, written aside and swapped in."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from sitegen.checking import Progress, check, silent
from sitegen.checks.privacy import private_words
from sitegen.findings.outcomes import Outcome
from sitegen.findings.problems import OutputFault, WrongUse, usable
from sitegen.pipeline import prepare
from sitegen.project.survey import Survey
from sitegen.project.tables import Analyte
from sitegen.project.voices import voice_of
from sitegen.render.place.swap import put_in_place, scratch_beside
from sitegen.render.print.lone import DPI, PROJECT_PAPERS, Labels, is_lone_map, lone_pdf, lone_png, lone_texts
from sitegen.render.print.picture import size_px
from sitegen.render.print.strings import Words
from sitegen.render.site.paths import safe_name
from sitegen.report.assemble import Draft
from sitegen.report.record.lone import Atlas, LoneMap
from sitegen.report.results.lone import atlas
from sitegen.report.write.context import Context
from sitegen.report.write.publish import guarded_texts, relabel, substitutes
from sitegen.voice import speaking

_KINDS = (".pdf", ".png")
_MOST_TOLD = 60


@dataclass(frozen=True, slots=True)
class Asked:
    """What somebody asks for: a compound in any of its spellings, paper, labels, and a round by its id.

    ``paper`` "" stands for the project's own, ``round_id`` "" for the round that is reported.
    """

    compound: str
    paper: str = ""
    labels: Labels = "ids"
    round_id: str = ""
    issue: bool = False


def make_map(folder: Path, asked: Asked, out: Path | None = None, *, progress: Progress | None = None) -> Outcome:
    """Write the map that is asked for as a PDF, or as a PNG where ``out`` ends so, and say what it is.

    Raises Stopped where findings stop it (with ``issue``: where any holds it), WrongUse for a compound or round
    that isn't there and for a bad place, OutputFault where a private word would leave or writing fails. In each
    case what was there before stays.
    """
    say = progress or silent
    if out is not None:
        _refuse_bad_place(out, folder)
    survey, made, _ = prepare(check(folder, progress), issue=asked.issue, progress=progress)
    with speaking(voice_of(survey.folder)):
        return _made(folder, asked, out, survey, made, say)


def _made(folder: Path, asked: Asked, out: Path | None, survey: Survey, made: Draft, say: Progress) -> Outcome:
    context = _round(made.context, asked.round_id)
    whole = atlas(context, every=True)
    one = chosen(context, [item for item in whole.maps if not item.ground], asked.compound)
    target = out or _beside(folder, one)
    _refuse_bad_place(target, folder)
    say("map", 0, 1)
    only = relabel(whole.only([one]), substitutes(context.survey))
    if survey.settings.publish.level != "internal":
        _require_nothing_private(only, made, (*private_words(survey.folder), *guarded_texts(survey)))
    paper = asked.paper or PROJECT_PAPERS[made.bound.meta.paper]
    picture = target.suffix.lower() == ".png"
    content = (lone_png if picture else lone_pdf)(only, made.bound.meta, paper, asked.labels)
    with scratch_beside(target) as scratch:
        new = scratch / "new"
        new.write_bytes(content)
        put_in_place(new, target)
    size = "{} × {} pixels, {} to the inch".format(*size_px(content), DPI) if picture else f"{len(content):,} bytes"
    return Outcome((f"{only.maps[0].title}: {only.maps[0].subtitle}", f"map  {target}  ({size})"))


def _round(context: Context, round_id: str) -> Context:
    """Return what a round is written from. Raises WrongUse where there is none of that id."""
    if not round_id:
        return context
    rounds = {one.campaign.id: one for one in context.rounds if one.campaign.id}
    if round_id not in rounds:
        raise WrongUse(f"there is no round {round_id!r}; {_there_are(rounds) or 'none is declared'}")
    return rounds[round_id]


def chosen(context: Context, maps: Iterable[LoneMap], wanted: str) -> LoneMap:
    """Return the map of a compound by its id, name, CAS number or a synonym, or of a sum by its id or title.

    Letter case and blanks don't count. Raises WrongUse, with the nearest and all that there are, where none has it,
    or more than one.
    """
    by_id = {one.id: one for one in maps}
    if not by_id:
        raise WrongUse("there is nothing to map: no compound has a result at a soil point with a position")
    spelled: dict[str, dict[str, None]] = {}
    for name, spellings in _spellings(context, by_id).items():
        for spelling in spellings:
            spelled.setdefault(_plain(spelling), {})[name] = None
    found = [*spelled.get(_plain(wanted), ())]
    if len(found) == 1:
        return by_id[found[0]]
    if found:
        raise WrongUse(f"{wanted!r} matches more than one: {', '.join(found)}; give the id")
    near = [*dict.fromkeys(name for one in get_close_matches(_plain(wanted), spelled, 3) for name in spelled[one])]
    nearest = f"; nearest: {', '.join(f'{name} ({by_id[name].title})' for name in near)}" if near else ""
    raise WrongUse(f"no map of {wanted!r}, by id, name, CAS number or synonym{nearest}; {_there_are(by_id)}")


def _spellings(context: Context, by_id: Mapping[str, LoneMap]) -> dict[str, tuple[str, ...]]:
    """Return every spelling of what is mapped, by id."""
    rows = {row.analyte_id: row for row in context.survey.rows(Analyte)}
    found: dict[str, tuple[str, ...]] = {}
    for name, one in by_id.items():
        row = rows.get(name)
        found[name] = (name, row.name, row.cas, *row.synonyms.split(";")) if row else (name, one.title)
    return {name: tuple(filter(str.strip, spellings)) for name, spellings in found.items()}


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def _there_are(names: Iterable[str]) -> str:
    listed = [*names]
    more = f" and {len(listed) - _MOST_TOLD} more" if len(listed) > _MOST_TOLD else ""
    return f"there are: {', '.join(listed[:_MOST_TOLD])}{more}" if listed else ""


def _beside(folder: Path, one: LoneMap) -> Path:
    whole = Path(os.path.realpath(folder))
    return whole.with_name(f"{whole.name}-map-{safe_name(one.id)}.pdf")


def _refuse_bad_place(out: Path, folder: Path) -> None:
    """Refuse a name of another kind, a place inside the project folder, and a file that is no such map."""
    if out.suffix.lower() not in _KINDS:
        raise WrongUse(f"{out.name}: a map is written as a PDF or a PNG; end its name with .pdf or .png")
    if Path(os.path.realpath(out)).is_relative_to(os.path.realpath(folder)):
        raise WrongUse(f"{out} is inside the project folder; give another path with --out")
    with usable(out):
        if os.path.lexists(out) and not (out.is_file() and is_lone_map(out.read_bytes())):
            raise WrongUse(f"{out} is not a map made by this command; give another path with --out")


def _require_nothing_private(only: Atlas, made: Draft, words: Iterable[str]) -> None:
    """Raise OutputFault where a map that leaves the house would hold what must stay inside."""
    found = [*Words(words).found_in(lone_texts(only, made.bound.meta))]
    if found:
        raise OutputFault(
            f"{len(found)} private text(s) would be printed on the map: {'; '.join(map(repr, found[:5]))}"
        )
