"""Planned methods: how samplers are to be placed, retrieved, sent and analysed, as far as the plan says."""

from __future__ import annotations

from sitegen.compute.design.asked import length_text
from sitegen.project.zones import ZONE_DATA_VERSION
from sitegen.report.evidence.methods import standards
from sitegen.report.field.surveyed import survey_facts
from sitegen.report.record.pages import Block, Page, Ref, Section
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import prose, say
from sitegen.voice import worded

PAGE = Ref("page", "methods")


def methods_page(context: Context, tool: str) -> Page:
    """Return the page on planned methods."""
    return Page(
        PAGE, worded("Planned methods"), say("plan.methods_lead"), methods_blocks(context, tool), group="Quality"
    )


@traced
def methods_blocks(context: Context, tool: str) -> tuple[Block, ...]:
    """Return the planned methods, section by section."""
    plan, lab = context.survey.plan, context.survey.settings.lab
    counts = context.evaluation.plan.allocation.counts
    depth = length_text(plan.depth) if plan.depth else ""
    tolerance = length_text(plan.depth_tolerance) if plan.depth_tolerance else ""
    least, most = (context.evaluation.limits[f"exposure_days_{end}"] for end in ("min", "max"))
    sampling = prose(
        "plan.methods_sampling",
        depth=depth,
        tolerance=tolerance,
        least=f"{least.value:g}",
        most=f"{most.value:g}",
        zone=context.survey.time_zone,
    )
    position = prose("methods.position", **survey_facts(context), methods="", accuracy="")
    transport = prose("plan.methods_transport", bags=counts.bags, per_bag=counts.per_bag)
    analysis = prose("plan.methods_analysis", lab=lab.name, accreditation=lab.accreditation,
                     methods=", ".join(lab.methods))  # fmt: skip
    again = prose("methods.reproducible", tool=tool, zones=ZONE_DATA_VERSION)
    return (
        Section("sampling", worded("Sampling"), (*standards(context), sampling)),
        Section("positions", worded("Positions"), (position,)),
        Section("transport", worded("Transport and custody"), (transport,)),
        Section("analysis", worded("Laboratory analysis"), (analysis,)),
        Section("again", worded("Reproducibility"), (again,)),
    )
