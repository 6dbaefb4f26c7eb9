"""How many samplers the plan needs, what each is for, and the rules that its data will be held to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sitegen.compute.design.allocation import Allocation, Slot, Use
from sitegen.compute.limits import LimitRecord
from sitegen.report.record.pages import Block, Cell, Page, Prose, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.columns import point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import opening, prose, say, word
from sitegen.voice import worded

PAGE = Ref("page", "plan-samplers")
_USES: tuple[Use, ...] = ("sample", "field_duplicate", "field_blank", "trip_blank", "spare")
_RULES = (
    "duplicate_rate",
    "duplicate_rpd_pct",
    "duplicate_rl_multiple",
    "duplicate_difference_rl",
    "blank_ratio",
    "blank_ratio_common",
    "exposure_days_min",
    "exposure_days_max",
    "exposure_from_median_pct",
    "depth_tolerance_m",
    "moved_m",
    "samplers_per_bag",
    "seal_hours",
    "hold_days",
    "surrogate_lower_pct",
    "surrogate_upper_pct",
    "recovery_reject_pct",
    "completeness_pct",
)
"""Limits that the plan's data will be held to, in the order of the work."""


def samplers_page(context: Context) -> Page:
    """Return the page on samplers and quality control."""
    lead = samplers_lead(context)
    return Page(PAGE, worded("Samplers and quality control"), lead, samplers_blocks(context), group="Work plan")


def samplers_lead(context: Context) -> str:
    """Say how many samplers the plan needs, by use."""
    counts = context.evaluation.plan.allocation.counts
    return say(
        "plan.samplers_lead",
        samplers=counts.samplers,
        primaries=counts.primaries,
        duplicates=counts.duplicates,
        field_blanks=counts.field_blanks,
        trip_blanks=counts.trip_blanks,
        spares=counts.spares,
        bags=counts.bags,
    )


@traced
def samplers_blocks(context: Context) -> tuple[Block, ...]:
    """Return the order list, the bags with their contents, and the rules that data will be held to."""
    return (
        Section("order", say("plan.order_title"), (order_table(context), *_lab(context))),
        Section("bags", worded("Return bags"), (prose("plan.bags_how"), bags_table(context))),
        Section("slots", worded("All planned samplers"), (slots_table(context),)),
        Section("rules", say("plan.rules_title"), (prose("plan.rules_how"), rules_table(context))),
    )


class _Order(NamedTuple):
    """A line of the order: what samplers serve as, and how many."""

    use: str
    samplers: int
    why: str


@traced
def order_table(context: Context) -> Table:
    """Return how many samplers the laboratory is asked for, by use."""
    found = context.evaluation.plan.allocation
    lines = [_Order(word("kind", use), len(found.of(use)), _why(context, use)) for use in _USES]
    lines.append(_Order(say("plan.all"), found.counts.samplers, say("plan.all_why")))
    columns: list[Spec[_Order]] = [
        Spec("use", "Type", cell=lambda one: one.use),
        Spec("count", "Samplers", kind="number", cell=lambda one: str(one.samplers)),
        Spec("why", "Basis of the number", kind="wide", tells=True, cell=lambda one: one.why),
    ]
    return table("sampler-order", say("plan.order_caption"), columns, lines)


def _why(context: Context, use: str) -> str:
    plan = context.survey.plan
    rate = context.evaluation.limits["duplicate_rate"]
    return say(
        f"plan.why_{use}", rate=f"{rate.value:g}", source=rate.source, least=plan.least_duplicates,
        per_bag=plan.samplers_per_bag,
    )  # fmt: skip


def _lab(context: Context) -> tuple[Prose, ...]:
    lab = context.survey.settings.lab
    if not lab.name:
        return ()
    return (prose("plan.lab", name=lab.name, accreditation=lab.accreditation, methods=", ".join(lab.methods)),)


class _Bag(NamedTuple):
    """A return bag of the plan and what goes into it."""

    bag_id: str
    slots: tuple[Slot, ...]

    def of(self, *uses: str) -> list[Slot]:
        """Return the samplers of some uses."""
        return [slot for slot in self.slots if slot.use in uses]


@traced
def bags_table(context: Context) -> Table:
    """Return each return bag with its contents."""
    columns: list[Spec[_Bag]] = [
        Spec("bag", "Return bag", cell=lambda bag: bag.bag_id),
        Spec("count", "Samplers, excluding the trip blank", kind="number",
             cell=lambda bag: str(len(bag.of("sample", "field_duplicate", "field_blank")))),
        Spec("trip_blank", "Trip blank", cell=lambda bag: _labels(bag.of("trip_blank"))),
        Spec("field_blanks", "Field blanks", cell=lambda bag: _labels(bag.of("field_blank"))),
        Spec("duplicates", "Duplicates", kind="wide", cell=lambda bag: _labels(bag.of("field_duplicate"))),
        Spec("primaries", "Primaries", kind="wide", cell=lambda bag: _labels(bag.of("sample"))),
    ]  # fmt: skip
    return table("planned-bags", say("plan.bags_caption"), columns, _bags(context.evaluation.plan.allocation))


def _bags(found: Allocation) -> list[_Bag]:
    names = dict.fromkeys(slot.bag_id for slot in found.slots if slot.bag_id)
    return [_Bag(name, tuple(slot for slot in found.slots if slot.bag_id == name)) for name in names]


def _labels(slots: Sequence[Slot]) -> str:
    return ", ".join(slot.label for slot in slots) or "–"


@traced
def slots_table(context: Context) -> Table:
    """Return every sampler of the plan with its use, point and bag, in the order in which points are walked."""
    columns: list[Spec[Slot]] = [
        Spec("label", "Field sample id", cell=lambda slot: slot.label),
        Spec("use", "Type", cell=lambda slot: word("kind", slot.use)),
        Spec("point", "Point", cell=lambda slot: point_cell(slot.location_id)),
        Spec("parent", "Duplicate of", cell=lambda slot: slot.parent or "–"),
        Spec("bag", "Return bag", cell=lambda slot: slot.bag_id or "–"),
    ]
    slots = context.evaluation.plan.allocation.slots
    return table("planned-samplers", say("plan.slots_caption"), columns, slots, filters=("use", "bag"))


@traced
def rules_table(context: Context) -> Table:
    """Return the limits that data of this plan will be held to, each with its source."""
    found = context.evaluation.limits
    columns: list[Spec[LimitRecord]] = [
        Spec("meaning", "Limit", cell=lambda limit: opening(worded(limit.meaning))),
        Spec("value", "Value", kind="number", cell=lambda limit: limit.text),
        Spec("by", "Set by", cell=lambda limit: worded("the project") if limit.from_project else worded("default")),
        Spec("source", "Source", kind="wide", cell=lambda limit: Cell(limit.source, Ref("page", "limits"))),
    ]
    rules = [found[name] for name in _RULES if name in found]
    return table("planned-rules", say("plan.rules_caption"), columns, rules)
