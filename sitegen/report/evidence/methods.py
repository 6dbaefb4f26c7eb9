"""The methods page: every sentence is bound to the record, and an absent record is told as not recorded."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from sitegen.checks.catalogue import catalogue
from sitegen.compute.evidence.protocol import Installation, Packing, Retrieval, Stated, protocol
from sitegen.compute.field.practice import Practice, practice
from sitegen.compute.formats import day_text, spanned
from sitegen.compute.quality.overrange import above_calibration
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.tables import CustodyEvent
from sitegen.project.zones import ZONE_DATA_VERSION
from sitegen.report.field.surveyed import survey_facts
from sitegen.report.record.pages import Block, Page, Ref, Section
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import counted, prose, say, word
from sitegen.voice import thousands, worded

PAGE = Ref("page", "methods")


@traced
def methods_page(context: Context, tool: str) -> Page:
    """Return the page on methods."""
    return Page(PAGE, worded("Methods"), say("methods_lead.lead"), methods_blocks(context, tool), group="Quality")


@traced
def methods_blocks(context: Context, tool: str) -> tuple[Block, ...]:
    """Return the methods, section by section."""
    facts = practice(context.survey, context.evaluation.placements)
    placed, results = bool(context.evaluation.placements), bool(len(context.evaluation.store))
    sections: list[Block] = []
    if placed:
        sections.append(
            Section("sampling", worded("Samplers and principle"), (*standards(context), _sampling(context, facts)))
        )
        sections += field_sections(context, facts)
    if results:
        sections.append(Section("analysis", worded("Laboratory analysis"), (_analysis(context, facts),)))
    sections.append(Section("quality", worded("Quality control"), (_quality(context, facts),)))
    sections.append(Section("review", worded("Data review"), (_review(context),)))
    if results:
        means = context.survey.rules.mean
        sections.append(
            Section("statistics", worded("Statistics and numbers"), (prose("methods.statistics", means=means),))
        )
    if placed:
        contours = context.survey.rules.contours
        mapping = (prose("methods.mapping", contours=contours),) if results else ()
        sections.append(Section("mapping", worded("Positions and mapping"), (_position(context, facts), *mapping)))
    if context.evaluation.concentrations:
        media = {c.medium for c in context.evaluation.concentrations.values()}
        sections.append(
            Section("air", worded("Concentrations"), (prose("methods.air", soil_rate=bool(media & set(SOIL_MEDIA))),))
        )
    if placed or results:
        sections.append(Section("limitations", worded("Limitations of the method"), (prose("methods.limitations"),)))
    sections.append(
        Section(
            "again", worded("Reproducibility"), (prose("methods.reproducible", tool=tool, zones=ZONE_DATA_VERSION),)
        )
    )
    return tuple(sections)


def standards(context: Context) -> tuple[Block, ...]:
    """Return the standards that the project names for its work; nothing where it names none."""
    named = context.survey.plan.standards
    return (prose("methods.standards", standards="; ".join(named)),) if named else ()


def field_sections(context: Context, facts: Practice) -> Iterator[Section]:
    """Yield what the records show of installation, exposure, retrieval and transport, a part for each ground."""
    shown = protocol(context.survey, context.evaluation.placements)
    yield Section(
        "installation", worded("Installation"), tuple(_installed(context, one) for one in shown.installations)
    )
    yield Section("exposure", worded("Exposure and weather"), (_exposure(context, facts),))
    yield Section("retrieval", worded("Retrieval"), (_retrieved(shown.retrieval),))
    yield Section(
        "transport", worded("Labelling, packing, custody and shipping"), (_transport(context, shown.packing),)
    )


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
        diameter=_range(one.diameters_in),
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
    return _listed(tuple(f"{word(group, name)} ({thousands(f'{count:,}')})" for name, count in stated.counts))


def _sampling(context: Context, facts: Practice) -> Block:
    return prose(
        "methods.sampling",
        placed=len(context.evaluation.placements),
        points=len(context.placed_at),
        types=", ".join(facts.sampler_types),
        lots=len(facts.lots),
        lot_names=_listed(facts.lots),
    )


def _exposure(context: Context, facts: Practice) -> Block:
    placed = context.evaluation.placements
    days = sorted(p.exposure_days for p in placed if p.recovered and p.exposure_days)
    median = context.evaluation.median_exposure_min
    least, most = (context.evaluation.limits[f"exposure_days_{end}"] for end in ("min", "max"))
    stated = least.from_project and most.from_project
    seen = context.weather
    first, last = _ends(p.placed_at for p in placed)
    back, back_last = _ends(p.retrieved_at for p in placed if p.recovered)
    return prose(
        "methods.exposure",
        first=first,
        last=last,
        back=back,
        back_last=back_last,
        least=f"{least.value:g}" if stated else "",
        most=f"{most.value:g}" if stated else "",
        readings=len(seen.readings) if seen else 0,
        rained=bool(seen and seen.rain_mm),
        rain="" if seen is None or seen.rain_mm is None else f"{seen.rain_mm:.1f}",
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
        accuracy=_range(facts.accuracies_m),
    )


def _analysis(context: Context, facts: Practice) -> Block:
    lab = context.survey.settings.lab
    store = context.evaluation.store
    analysed = context.survey.frame("lab_samples")["analysed_at"]
    first, last = _ends(analysed)
    return prose(
        "methods.analysis",
        samples=int((analysed != "").sum()),
        first=first,
        last=last,
        limits=bool(store["rl"].notna().any()),
        above=int((above_calibration(store) & (store["sampler_id"] != "") & store["reportable"]).sum()),
        calibrations=facts.qc_measured.get("calibration_check", 0),
        lab=lab.name,
        accreditation=lab.accreditation,
        methods=_listed(facts.lab_methods),
        batches=len(facts.batches),
        results=len(store),
        compounds=int(store["analyte_id"].nunique()),
        nondetects=int((~store["detected"]).sum()),
    )


def _quality(context: Context, facts: Practice) -> Block:
    samples = [counted(n, word("qc_sample", kind)) for kind, n in facts.qc_samples.items()]
    measured = [counted(n, word("qc", kind)) for kind, n in facts.qc_measured.items()]
    return prose(
        "methods.quality",
        samples=_listed(tuple(samples)),
        measured=_listed(tuple(measured)),
        pairs=sum(bool(pair.results) for pair in context.evaluation.pairs),
    )


def _review(context: Context) -> Block:
    store = context.evaluation.store
    return prose(
        "methods.review",
        checks=len(catalogue()),
        results=len(store),
        rule=word("rule", context.survey.rules.blank),
        by_person=int((store["validation_qualifier"] != "").sum()) if len(store) else 0,
    )


def _range(values: Sequence[float]) -> str:
    """Write the first and the last of some numbers in order, "" where there is none.

    >>> _range([1.0, 1.5, 2.0]), _range([1.5]), _range([])
    ('1 to 2', '1.5', '')
    """
    if not values:
        return ""
    return f"{values[0]:g}" if len(values) == 1 else spanned(f"{values[0]:g}", f"{values[-1]:g}")


def _ends(moments: Iterable[str]) -> tuple[str, str]:
    """Return the first and the last day of times as written, "" where none is."""
    days = sorted(moment[:10] for moment in moments if moment not in ("", "NA"))
    return (day_text(days[0]), day_text(days[-1])) if days else ("", "")


def _listed(words: tuple[str, ...]) -> str:
    if len(words) > 1:
        return worded("{first} and {last}", first=", ".join(words[:-1]), last=words[-1])
    return words[0] if words else ""
