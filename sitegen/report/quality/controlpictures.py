"""The control charts: recoveries in the order of analysis, with the limits that they were held against."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from sitegen.compute.quality.labqc import NOT_JUDGED, OUT, Control
from sitegen.figures.controlchart import (
    CHART_KINDS,
    MOST_PANELS,
    SURROGATE,
    ControlDot,
    ControlPanel,
    control_charts,
)
from sitegen.project.tables import LabSample
from sitegen.report.record.pages import Figure
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import say

_TOLD = 8


@traced
def control_figures(context: Context) -> tuple[Figure, ...]:
    """Draw recoveries by run order; nothing where no recovery has a time of analysis."""
    measured = [one for one in context.evaluation.controls if _is_recovery(one)]
    samples = {row.lab_sample_id: row for row in context.survey.rows(LabSample)}
    timed = [one for one in measured if _is_timed(samples.get(one.lab_sample_id))]
    panels = _panels(timed, samples)
    pages = [panels[at : at + MOST_PANELS] for at in range(0, len(panels), MOST_PANELS)]
    outside = [one for one in timed if one.side in OUT]
    facts = {
        **_counts("surrogate", [one for one in timed if one.qc_type == SURROGATE]),
        **_counts("control", [one for one in timed if one.qc_type != SURROGATE]),
        "batches": len({samples[one.lab_sample_id].batch_id for one in timed}),
        "runs": len({one.lab_sample_id for one in timed}),
        "timeless": len(measured) - len(timed),
        "sheets": len(pages),
        "outside": [f"{one.lab_sample_id} {one.name} {one.value_text}" for one in outside[:_TOLD]],
        "further": len(outside[_TOLD:]),
    }
    words = {
        key: say(f"qualitypictures.control_{key}") for key in (*CHART_KINDS, "outside", "limits", "axis", "percent")
    }
    return tuple(
        Figure(
            f"control-charts-{at}",
            control_charts(f"control-charts-{at}", page, words),
            say("qualitypictures.control_caption", sheet=at, **facts),
            say("qualitypictures.control_alt", panels=len(page), **facts),
            say("qualitypictures.control_words", **facts),
        )
        for at, page in enumerate(pages, start=1)
    )


def _is_recovery(one: Control) -> bool:
    return one.qc_type in CHART_KINDS and one.unit in ("%", "") and math.isfinite(one.value)


def _is_timed(sample: LabSample | None) -> bool:
    return sample is not None and not math.isnan(sample.analysed_at_utc)


def _counts(group: str, measured: Sequence[Control]) -> dict[str, int]:
    judged = [one for one in measured if one.side != NOT_JUDGED]
    return {f"{group}_judged": len(judged), f"{group}_out": sum(one.side in OUT for one in judged)}


def _panels(timed: Sequence[Control], samples: Mapping[str, LabSample]) -> list[ControlPanel]:
    """Return a panel for each surrogate, then one for controls and calibration checks of every compound."""
    titles: dict[str, list[Control]] = {}
    for one in timed:
        if one.qc_type == SURROGATE:
            titles.setdefault(one.name, []).append(one)
    own = {say("qualitypictures.control_surrogate_title", name=name): group for name, group in titles.items()}
    others = [one for one in timed if one.qc_type != SURROGATE]
    if others:
        own[say("qualitypictures.control_others_title")] = others
    return [_panel(title, group, samples) for title, group in own.items()]


def _panel(title: str, group: Sequence[Control], samples: Mapping[str, LabSample]) -> ControlPanel:
    """Return a panel over the runs that have a measurement of it, in the order of analysis."""
    names = {one.lab_sample_id for one in group}
    runs = sorted(names, key=lambda name: (samples[name].analysed_at_utc, samples[name].origin.row))
    at = {name: place for place, name in enumerate(runs)}
    dots = tuple(
        ControlDot(
            one.qc_type, at[one.lab_sample_id], one.value, one.lower, one.upper, one.side in OUT, one.lab_sample_id
        )
        for one in group
    )
    batches = tuple(samples[name].batch_id or say("qualitypictures.control_no_batch") for name in runs)
    return ControlPanel(say("qualitypictures.control_title", title=title, **_counts("all", group)), dots, batches)
