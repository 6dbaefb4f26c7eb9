"""The drawings of blanks against the samples that they apply to, in order of time."""

from __future__ import annotations

from sitegen.compute.quality.blanks import BATCH, BlankHit
from sitegen.compute.results.store import StoredResult, stored_results
from sitegen.compute.statistics.rounding import as_reported
from sitegen.figures.blankbags import BLANK_KINDS, MOST_PANELS, BlankLevel, BlankPanel, BlankSample, blank_bags
from sitegen.report.record.pages import Figure
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import say, word

_KEY = ("detected", "affected", "below", "value", "action")


@traced
def blank_figures(context: Context) -> tuple[Figure, ...]:
    """Draw each compound that a blank affects in its bag, batch or day; nothing where no blank affects any."""
    grouped: dict[tuple[str, str, str], list[BlankHit]] = {}
    for hit in context.evaluation.blank_hits:
        if hit.group:
            grouped.setdefault((hit.reach, hit.group, hit.analyte_id), []).append(hit)
    listed = [hits for hits in grouped.values() if any(hit.touched for hit in hits)]
    return tuple(
        _sheet(context, listed[at : at + MOST_PANELS], at // MOST_PANELS + 1, -(-len(listed) // MOST_PANELS))
        for at in range(0, len(listed), MOST_PANELS)
    )


def _sheet(context: Context, listed: list[list[BlankHit]], number: int, sheets: int) -> Figure:
    panels = [(hits, _samples(context, hits)) for hits in listed]
    told = [_told(context, hits, rows) for hits, rows in panels]
    facts = {
        "panels": len(panels),
        "affected": sum(row.key in _affected(hits) for hits, rows in panels for row in rows),
        "detected": sum(row.detected for _, rows in panels for row in rows),
        "sheet": number,
        "sheets": sheets,
        "told": told,
        "unit": context.mass_unit.text,
    }
    words = {key: say(f"qualitypictures.blank_{key}") for key in _KEY} | {k: word("blank", k) for k in BLANK_KINDS}
    name = f"blank-samples-{number}"
    return Figure(
        name,
        blank_bags(name, [_panel(context, *one) for one in panels], context.mass_unit.text, words),
        say("qualitypictures.blank_caption", **facts),
        say("qualitypictures.blank_alt", **facts),
        say("qualitypictures.blank_words", **facts),
    )


def _samples(context: Context, hits: list[BlankHit]) -> list[StoredResult]:
    """Return the results that the blanks apply to, in the order of analysis for a batch, else of retrieval."""
    hit, store = hits[0], context.evaluation.store
    asked = store[(store["type"] == "sample") & store["reportable"] & (store["analyte_id"] == hit.analyte_id)]
    members = stored_results(context.evaluation.blank_reach.members(asked, hit.kind, hit.group))
    rows = [row for row in members if row.unit == hit.unit and not row.rejected and _mass(row) > 0]
    return sorted(rows, key=lambda row: _when(context, row, by_batch=hit.reach == BATCH))


def _mass(row: StoredResult) -> float:
    return row.value if row.detected else row.rl


def _when(context: Context, row: StoredResult, *, by_batch: bool) -> tuple[bool, float]:
    """Return what puts a result in order of time; one whose time is not on record comes last."""
    placed = context.placed.get(row.sampler_id)
    at = row.analysed_at_utc if by_batch else placed.retrieved_utc if placed else None
    known = at is not None and at == at  # noqa: PLR0124 - not a number where no time is on record
    return (not known, float(at) if known and at is not None else 0.0)


def _affected(hits: list[BlankHit]) -> set[tuple[str, str]]:
    return {key for hit in hits for key in hit.touched}


def _told(context: Context, hits: list[BlankHit], rows: list[StoredResult]) -> dict[str, int | str | list[str]]:
    keys = _affected(hits)
    return {
        "compound": context.name(hits[0].analyte_id),
        "group": say("quality.reach", reach=hits[0].reach, group=hits[0].group),
        "samples": len(rows),
        "detected": sum(row.detected for row in rows),
        "affected": sum(row.key in keys for row in rows),
        "levels": [
            say("qualitypictures.blank_level", label=hit.label, found=hit.text, action=as_reported(hit.action_level))
            for hit in hits
        ],
    }


def _panel(context: Context, hits: list[BlankHit], rows: list[StoredResult]) -> BlankPanel:
    keys, told = _affected(hits), _told(context, hits, rows)
    return BlankPanel(
        say("qualitypictures.blank_title", **told),
        say("qualitypictures.blank_axis", batch=hits[0].reach == BATCH),
        tuple(BlankSample(row.label or row.sampler_id, _mass(row), row.detected, row.key in keys) for row in rows),
        tuple(
            BlankLevel(hit.kind, hit.value, hit.action_level, hit.text, as_reported(hit.action_level)) for hit in hits
        ),
    )
