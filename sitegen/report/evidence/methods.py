"""The methods page: a paragraph stands only if the folder holds the data for it."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.checks.catalogue import catalogue
from sitegen.compute.evidence.protocol import Installation, Packing, Retrieval, Stated, protocol
from sitegen.compute.evidence.published import PublishedCheck, published_checks
from sitegen.compute.field.practice import Practice, practice
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.tables import CustodyEvent
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
    return Page(PAGE, "Methods", say("methods_lead.lead"), methods_blocks(context, tool), group="Quality")


@traced
def methods_blocks(context: Context, tool: str) -> tuple[Block, ...]:
    """Return the methods, section by section."""
    facts = practice(context.survey, context.evaluation.placements)
    sections: list[Block] = []
    if context.evaluation.placements:
        sections.append(Section("sampling", "Sampling", (_sampling(context, facts), _position(context, facts))))
        sections += field_sections(context)
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


def field_sections(context: Context) -> Iterator[Section]:
    """Yield what the records show of installation, retrieval and transport, a part for each kind of ground."""
    shown = protocol(context.survey, context.evaluation.placements)
    yield Section("installation", "Installation", tuple(_installed(context, one) for one in shown.installations))
    yield Section("retrieval", "Retrieval", (_retrieved(shown.retrieval),))
    yield Section("transport", "Labelling, packing and transport", (_transport(context, shown.packing),))


def _installed(context: Context, one: Installation) -> Block:
    plan = context.survey.plan
    return prose(
        "methods.installation",
        ground=one.ground,
        samplers=one.samplers,
        doubled=one.doubled,
        points=one.points,
        methods=_tally("hole_method", one.method),
        methods_missing=one.method.missing,
        diameter=" to ".join(f"{d:g}" for d in one.diameters_in[:: max(1, len(one.diameters_in) - 1)]),
        depth=f"{plan.depth.value:g} {plan.depth.unit}" if plan.depth else "",
        shallowest=one.depths[0] if one.depths else "",
        deepest=one.depths[1] if one.depths else "",
        refusals=one.refusal["yes"],
        sleeved=one.sleeve["yes"],
        unsleeved=one.sleeve["no"],
        sleeve_missing=one.sleeve.missing,
        closures=_tally("closure", one.closure),
        closures_missing=one.closure.missing,
    )


def _retrieved(one: Retrieval) -> Block:
    return prose(
        "methods.retrieval",
        samplers=one.samplers,
        conditions=_tally("condition", one.condition),
        conditions_missing=one.condition.missing,
        alone=one.alone["yes"],
        alone_stated=one.alone.on_record,
        holes=one.holes,
        restored=_tally("hole_restored", one.restored),
        restored_missing=one.restored.missing,
    )


def _transport(context: Context, packing: Packing) -> Block:
    return prose(
        "methods.transport",
        issued=packing.issued,
        labelled=packing.labelled,
        bagged=packing.bagged,
        bags=packing.bags,
        sealed=packing.sealed,
        blanks=packing.with_blank,
        shipments=packing.shipments,
        outer_seals=packing.outer_seals,
        seals_read=_tally("seal_condition", packing.seal_read),
        chilled=packing.chilled["yes"],
        unchilled=packing.chilled["no"],
        events=len(context.survey.rows(CustodyEvent)),
    )


def _tally(group: str, stated: Stated) -> str:
    """Write the words of a column with how many rows have each."""
    return _listed(tuple(f"{word(group, name)} ({count:,})" for name, count in stated.counts))


def _sampling(context: Context, facts: Practice) -> Block:
    placed = context.evaluation.placements
    days = sorted(p.exposure_days for p in placed if p.recovered and p.exposure_days)
    median = context.evaluation.median_exposure_min
    return prose(
        "methods.sampling",
        placed=len(placed),
        points=len(context.placed_at),
        types=", ".join(facts.sampler_types),
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
