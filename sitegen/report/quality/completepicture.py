"""The drawing of completeness: planned points at each stage, by medium group."""

from __future__ import annotations

from sitegen.compute.field.completeness import STAGES
from sitegen.figures.funnel import FunnelGroup, funnel
from sitegen.report.record.pages import Figure
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import say, word


@traced
def completeness_figure(context: Context) -> tuple[Figure, ...]:
    """Draw the planned points stage by stage; nothing where none was planned.

    A stage that no point has reached is not known, as in the table; the last one is where results are.
    """
    done = context.evaluation.completeness
    groups = done.planned_by
    if not groups:
        return ()
    known = [count > 0 for count in done.every.counts]
    known[-1] = known[-1] or known[STAGES.index("analysed")]
    listed = [
        FunnelGroup(
            word("medium_group", group.group),
            tuple(count if has else None for count, has in zip(group.counts, known, strict=True)),
        )
        for group in groups
    ]
    planned, *_, analysed, usable = done.overall.counts
    names = [word("stage", stage) for stage in STAGES]
    facts = {
        "planned": planned,
        "analysed": analysed,
        "usable": usable,
        "added": done.added.counts[0],
        "groups": [{"name": one.title, "counts": one.counts} for one in listed],
        "names": [name.lower() for name in names],
    }
    return (
        Figure(
            "completeness-stages",
            funnel("completeness-stages", names, listed, say("qualitypictures.stages_unknown")),
            say("qualitypictures.stages_caption", **facts),
            say("qualitypictures.stages_alt", **facts),
            say("qualitypictures.stages_words", **facts),
        ),
    )
