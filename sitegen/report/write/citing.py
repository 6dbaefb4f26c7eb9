"""The published sources of limits and rules: what rests on each, and how it is known."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.compute.citations import CITED
from sitegen.compute.limits import DEFAULTS
from sitegen.compute.quality.proposals import ESTIMATES
from sitegen.compute.statistics.intervals import DEMANDS
from sitegen.report.record.pages import Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.words import lexicon, say, word
from sitegen.voice import worded


def citations_table() -> Table:
    """Return each published source with what rests on it, and how it is known."""
    uses: dict[str, dict[str, None]] = {source: {} for source in CITED}
    for source, use in _uses():
        if source in uses:
            uses[source][use] = None
    columns: list[Spec[str]] = [
        Spec("source", "Source", kind="wide", cell=str),
        Spec("uses", "Used for", kind="wide", cell=lambda source: "; ".join(uses[source])),
        Spec("known", "How the source is known", cell=lambda source: word("cited", CITED[source])),
    ]
    return table("cited", say("review.cited_caption"), columns, CITED)


def _uses() -> Iterator[tuple[str, str]]:
    """Yield (source, what rests on it) of the default limits, the proposed qualifiers and the means."""
    yield from ((limit.source, worded(limit.meaning)) for limit in DEFAULTS)
    for one in ESTIMATES:
        yield one.source, say("review.cited_proposal", mark=lexicon("marks")[one.code]["word"])
    for demand in DEMANDS:
        for source in demand.source.split("; "):
            yield source, say("review.cited_mean", estimator=word("estimator", demand.estimator))
