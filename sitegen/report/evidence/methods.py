"""The methods page: a paragraph stands only if the folder holds the data for it."""

from __future__ import annotations

from sitegen.checks.catalogue import catalogue
from sitegen.compute.custody.seals import seals
from sitegen.compute.evidence.published import PublishedCheck, published_checks
from sitegen.compute.field.practice import Practice, practice
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.tables import CustodyEvent, ReturnBag
from sitegen.project.zones import ZONE_DATA_VERSION
from sitegen.report.field.surveyed import survey_facts
from sitegen.report.record.pages import Block, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import prose, say, word

PAGE = Ref("page", "methods")


@traced
def methods_page(context: Context, tool: str) -> Page:
    """Return the page on methods."""
    return Page(PAGE, "Methods", say("methods_lead.lead"), methods_blocks(context, tool), group="Methods")


@traced
def methods_blocks(context: Context, tool: str) -> tuple[Block, ...]:
    """Return the methods, section by section."""
    facts = practice(context.survey, context.evaluation.placements)
    sections: list[Block] = []
    if context.evaluation.placements:
        sections.append(Section("sampling", "Sampling", (_sampling(context, facts), _position(context, facts))))
    if context.survey.rows(ReturnBag):
        sections.append(Section("transport", "Transport and custody", (_transport(context),)))
    if len(context.evaluation.store):
        sections.append(Section("analysis", "Laboratory analysis", (_analysis(context, facts),)))
    sections.append(Section("quality", "Quality control", (_quality(facts),)))
    if len(context.evaluation.store):
        means = context.survey.rules.mean
        sections.append(Section("statistics", "Statistics and numbers", (prose("methods.statistics", means=means),)))
    if context.evaluation.concentrations:
        media = {c.medium for c in context.evaluation.concentrations.values()}
        sections.append(
            Section("air", "Concentrations", (prose("methods.air", soil_rate=bool(media & set(SOIL_MEDIA))),))
        )
    sections.append(Section("checked", "Checked against", (prose("calculation.checked"), checked_table())))
    sections.append(
        Section("again", "Doing it again", (prose("methods.reproducible", tool=tool, zones=ZONE_DATA_VERSION),))
    )
    return tuple(sections)


def checked_table() -> Table:
    """Return the outside checks: what was held to which figure, and how that is known."""
    columns: list[Spec[PublishedCheck]] = [
        Spec("what", "What", kind="wide", cell=lambda check: check.what),
        Spec("source", "Source", kind="wide", cell=lambda check: check.source),
        Spec("known", "Known", cell=lambda check: word("known", check.known)),
    ]
    return table("checked-against", say("calculation.checked_caption"), columns, published_checks(), row_header=-1)


def _sampling(context: Context, facts: Practice) -> Block:
    placed = context.evaluation.placements
    days = sorted(p.exposure_days for p in placed if p.recovered and p.exposure_days)
    plan = context.survey.plan
    median = context.evaluation.median_exposure_min
    return prose(
        "methods.sampling",
        placed=len(placed),
        points=len(context.placed_at),
        types=", ".join(facts.sampler_types),
        holes=_listed(facts.hole_methods),
        diameter=" to ".join(f"{d:g}" for d in facts.hole_diameters_in[:: max(1, len(facts.hole_diameters_in) - 1)]),
        depth=f"{plan.depth.value:g} {plan.depth.unit}" if plan.depth else "",
        shallowest=facts.depth_texts[0] if facts.depth_texts else "",
        deepest=facts.depth_texts[1] if facts.depth_texts else "",
        closures=_listed(facts.closures),
        sleeves=facts.sleeves,
        retrieved=len(days),
        shortest=f"{days[0]:.1f}" if days else "–",
        longest=f"{days[-1]:.1f}" if days else "–",
        median=context.days_text(median) if median else "–",
        zone=context.survey.time_zone,
        clock_change=facts.clock_change_min,
    )


def _position(context: Context, facts: Practice) -> Block:
    return prose(
        "methods.position",
        **survey_facts(context),
        methods=_listed(facts.coordinate_methods),
        accuracy=" to ".join(f"{a:g}" for a in facts.accuracies_m[:: max(1, len(facts.accuracies_m) - 1)]),
    )


def _transport(context: Context) -> Block:
    bags = context.survey.rows(ReturnBag)
    found = seals(context.survey)
    return prose(
        "methods.transport",
        bags=len(bags),
        sealed=sum(bool(found["bag", bag.bag_id].applied) for bag in bags),
        blanks=sum(bool(bag.trip_blank_id) for bag in bags),
        events=len(context.survey.rows(CustodyEvent)),
    )


def _analysis(context: Context, facts: Practice) -> Block:
    lab = context.survey.settings.lab
    store = context.evaluation.store
    return prose(
        "methods.analysis",
        samples=int((context.survey.frame("lab_samples")["analysed_at"] != "").sum()),
        lab=lab.name,
        accreditation=lab.accreditation,
        methods=_listed(facts.lab_methods),
        batches=len(facts.batches),
        results=len(store),
        compounds=int(store["analyte_id"].nunique()),
        nondetects=int((~store["detected"]).sum()),
    )


def _quality(facts: Practice) -> Block:
    samples = [f"{n} × {word('qc_sample', kind)}" for kind, n in facts.qc_samples.items()]
    measured = [f"{n} × {word('qc', kind)}" for kind, n in facts.qc_measured.items()]
    return prose(
        "methods.quality",
        samples=_listed(tuple(samples)),
        measured=_listed(tuple(measured)),
        checks=len(catalogue()),
    )


def _listed(words: tuple[str, ...]) -> str:
    return ", ".join(words[:-1]) + (" and " if len(words) > 1 else "") + words[-1] if words else ""
