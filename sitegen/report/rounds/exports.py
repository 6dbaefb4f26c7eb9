"""Tables to download over several rounds: the rounds side by side, and what became of every result."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple, TypeAlias

from sitegen.compute.field.completeness import STAGES
from sitegen.compute.quality.blanks import KINDS as BLANKS
from sitegen.compute.results.reported import printed_text
from sitegen.compute.results.store import StoredResult
from sitegen.compute.rounds.changes import KINDS, REASONS, Match, PointChange
from sitegen.compute.rounds.overview import Span
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.specs import BOOLEAN, INTEGER, NUMBER, Spec, Value, export
from sitegen.report.rounds.overview import Side, sides
from sitegen.report.rounds.sides import Earlier, compound_name, earlier_rounds, round_ids, several
from sitegen.report.write.context import Context
from sitegen.report.write.fields import number_or_none
from sitegen.report.write.words import say
from sitegen.units import minutes_to_days, stated_unit
from sitegen.voice import worded

Of: TypeAlias = Callable[[Side], Value]


def round_exports(context: Context) -> tuple[ExportTable, ...]:
    """Return the tables over rounds; none where there is one."""
    if not several(context):
        return ()
    return (rounds_export(context), *((changes_export(context),) if context.earlier else ()))


def rounds_export(context: Context) -> ExportTable:
    """Return the rounds and supplements side by side, a round with its supplements once more in a row of its own."""
    title, note = say("rounds.export_title"), say("rounds.export_note", unit=context.mass_unit.text)
    return export("rounds", title, note, _round_fields(context), sides(context), key=("round", "part", "kind"))


def _round_fields(context: Context) -> list[Spec[Side]]:
    ids = round_ids(context)
    number = {id(one): at for at, one in enumerate(context.rounds)}
    unit = context.mass_unit.text
    return [
        Spec("round", meaning="round", value=lambda one: ids[number[id(one.context)]], required=True),
        Spec("part", meaning="supplement; empty for a round", value=lambda one: one.part),
        Spec(
            "kind",
            meaning="a round, a supplement, or a round combined with its supplements",
            value=lambda one: one.what,
            required=True,
            choices=("round", "supplement", "together"),
        ),
        Spec("title", meaning="title of the round or supplement", value=lambda one: one.name, required=True),
        Spec("season", meaning="season as stated", value=lambda one: one.season),
        *_days("placed", _INSTALLED, lambda one: one.figures.placed),
        *_days("retrieved", _RETRIEVED, lambda one: one.figures.retrieved),
        _number("gap_days", "days from the last retrieval before it to its first installation", "d", _gap_days),
        *(_count(f"points_{stage}", worded(_STAGE_MEANINGS[stage]), _points(stage)) for stage in STAGES),
        _count(
            "exposures", "samplers at points with an exposure on record", lambda one: len(one.figures.exposures_min)
        ),
        _number("exposure_shortest", "shortest exposure", "d", lambda one: _exposure_days(one, 0)),
        _number("exposure_median", "median exposure", "d", _median_days),
        _number("exposure_longest", "longest exposure", "d", lambda one: _exposure_days(one, -1)),
        _count("duplicate_pairs", "duplicate pairs with results", lambda one: one.figures.pairs),
        _count("primaries", "points with a primary result that is not rejected", lambda one: one.figures.primaries),
        *(field for kind in BLANKS for field in _blanks(kind)),
        _count("custody_gaps", "custody gaps that affect samplers at points", lambda one: one.figures.gaps),
        _count("hand_overs", "samplers with a custody transfer on record", lambda one: one.figures.handed),
        _count("seals_read", "seals with a number read on receipt", lambda one: one.figures.seals_read),
        _count("seals_differ", "seals with another number than applied", lambda one: one.figures.seals_differ),
        _number("rain", "rainfall during exposure; empty without a reading, and combined", "mm", _rain_mm),
        *_ends("temperature", _TEMPERATURES, "°C", lambda one: one.figures.temperature_c),
        Spec("batches", meaning="analysis batches", value=lambda one: "; ".join(one.figures.batches)),
        Spec("methods", meaning="methods", value=lambda one: "; ".join(one.figures.methods)),
        *_ends("rl", _LIMITS, unit, lambda one: one.figures.reporting),
    ]


_STAGE_MEANINGS = {
    "planned": "points planned, of all media",
    "placed": "points placed, of all media",
    "recovered": "points recovered, of all media",
    "analysed": "points analysed, of all media",
    "usable": "points usable, of all media",
}


def _points(stage: str) -> Of:
    return lambda one: one.figures.count(stage)


def _count(key: str, meaning: str, value: Of) -> Spec[Side]:
    return Spec(key, type=INTEGER, meaning=meaning, value=value, required=True)


def _number(key: str, meaning: str, unit: str, value: Of) -> Spec[Side]:
    return Spec(key, type=NUMBER, unit=unit, meaning=meaning, value=value)


_INSTALLED = (
    "local day of the first installation; empty without a record",
    "local day of the last installation; empty without a record",
)
_RETRIEVED = (
    "local day of the first retrieval; empty without a record",
    "local day of the last retrieval; empty without a record",
)
_TEMPERATURES = ("lowest air temperature during exposure", "highest air temperature during exposure")
_LIMITS = ("lowest reporting limit at soil points", "highest reporting limit at soil points")
_BLANK_MEANINGS = {
    "trip_blank": ("trip blanks with results", "trip blanks in which a compound was detected"),
    "method_blank": ("method blanks with results", "method blanks in which a compound was detected"),
    "field_blank": ("field blanks with results", "field blanks in which a compound was detected"),
}


def _days(key: str, meanings: tuple[str, str], span: Callable[[Side], Span | None]) -> Iterator[Spec[Side]]:
    """Yield the columns of the first and the last local day of something."""
    for at, end in enumerate(("from", "to")):

        def day(one: Side, at: int = at) -> str:
            found = span(one)
            return one.context.when(found[at])[:10] if found else ""

        yield Spec(f"{key}_{end}", meaning=meanings[at], value=day)


def _ends(key: str, meanings: tuple[str, str], unit: str, span: Callable[[Side], Span | None]) -> Iterator[Spec[Side]]:
    """Yield the columns of the lowest and the highest of something."""
    for at, name in enumerate(("lowest", "highest")):

        def end(one: Side, at: int = at) -> float | None:
            found = span(one)
            return found[at] if found else None

        yield _number(f"{key}_{name}", meanings[at], unit, end)


def _blanks(kind: str) -> Iterator[Spec[Side]]:
    def of(one: Side) -> tuple[int, int]:
        return next(((c.analysed, c.detected) for c in one.figures.blanks if c.kind == kind), (0, 0))

    with_results, detected = _BLANK_MEANINGS[kind]
    yield _count(f"{kind}s", with_results, lambda one: of(one)[0])
    yield _count(f"{kind}s_detected", detected, lambda one: of(one)[1])


def _gap_days(one: Side) -> float | None:
    return None if one.gap_min is None else minutes_to_days(one.gap_min)


def _rain_mm(one: Side) -> float | None:
    return None if one.what == "together" else one.figures.rain_mm


def _exposure_days(one: Side, at: int) -> float | None:
    every = one.figures.exposures_min
    return minutes_to_days(every[at]) if every else None


def _median_days(one: Side) -> float | None:
    return None if one.figures.median_min is None else minutes_to_days(one.figures.median_min)


class _Change(NamedTuple):
    """A compound at a point in two rounds, with the match of the points."""

    earlier: Earlier
    match: Match
    change: PointChange


def changes_export(context: Context) -> ExportTable:
    """Return every compound at every matched point, the results of each earlier round beside those of this one."""
    items = []
    for earlier in earlier_rounds(context):
        matches = {match.location_id: match for match in earlier.change.matches}
        items += [_Change(earlier, matches[one.location_id], one) for one in earlier.change.points]
    return export(
        "round_changes",
        say("rounds.changes_export_title"),
        say("rounds.changes_export_note"),
        _change_fields(context),
        items,
        key=("earlier_round", "location_id", "analyte_id"),
    )


def _change_fields(context: Context) -> list[Spec[_Change]]:
    ids = round_ids(context)
    return [
        Spec("earlier_round", meaning="earlier round", value=lambda one: ids[one.earlier.number - 1], required=True),
        Spec("round", meaning="later round", value=lambda _: ids[-1], required=True),
        Spec(
            "location_id", meaning="point in the later round", value=lambda one: one.change.location_id, required=True
        ),
        Spec(
            "earlier_location_id",
            meaning="point in the earlier round",
            value=lambda one: one.change.earlier_id,
            required=True,
        ),
        Spec(
            "matched_by",
            meaning="basis of the match",
            value=lambda one: one.match.how,
            required=True,
            choices=("id", "position"),
        ),
        Spec(
            "distance",
            type=NUMBER,
            unit="m",
            meaning="distance between the two positions; empty where one is not known",
            value=lambda one: one.match.distance_m,
        ),
        Spec("analyte_id", meaning="compound", value=lambda one: one.change.analyte_id, required=True),
        Spec(
            "compound", meaning="name of the compound", value=lambda one: compound_name(context, one.change.analyte_id)
        ),
        *_result_fields("before", worded("earlier round"), lambda one: (one.earlier.context, one.change.before)),
        *_result_fields("after", worded("later round"), lambda one: (context, one.change.after)),
        Spec(
            "kind",
            meaning="type of change: grew (increased) and shrank (decreased) beyond the field-duplicate criterion",
            value=lambda one: one.change.kind,
            required=True,
            choices=KINDS,
        ),
        Spec(
            "below_limit",
            type=BOOLEAN,
            meaning="true where a lone detection is below the other round's limit, or that limit is not on record",
            value=lambda one: one.change.below_limit,
            required=True,
        ),
        Spec(
            "factor",
            type=NUMBER,
            meaning="later result divided by the earlier one; empty unless both are detections",
            value=lambda one: one.change.factor,
        ),
        Spec(
            "factor_of",
            meaning="quantity of the factor: mass, or concentration in air",
            value=lambda one: one.change.quantity if one.change.factor is not None else "",
        ),
        Spec("reason", meaning="reason for not comparing", value=lambda one: one.change.reason, choices=REASONS),
    ]


def _result_fields(
    key: str, when: str, side: Callable[[_Change], tuple[Context, StoredResult | None]]
) -> list[Spec[_Change]]:
    """Return the columns of the result of one round; empty where it has none."""

    def of(value: Callable[[Context, StoredResult], Value]) -> Callable[[_Change], Value]:
        def told(one: _Change) -> Value:
            context, row = side(one)
            return None if row is None else value(context, row)

        return told

    def mass(value: Callable[[StoredResult], float]) -> Callable[[_Change], Value]:
        return of(lambda _, row: number_or_none(value(row)))

    return [
        Spec(
            f"{key}_lab_sample_id",
            meaning=worded("laboratory sample of the {when}; empty without a result", when=when),
            value=of(lambda _, row: row.lab_sample_id),
        ),
        Spec(
            f"{key}_detected",
            type=BOOLEAN,
            meaning=worded("detected in the {when}", when=when),
            value=of(lambda _, row: row.detected),
        ),
        Spec(
            f"{key}_value",
            type=NUMBER,
            unit=worded("as in {column}", column=f"{key}_unit"),
            meaning=worded("value of the {when}; empty for a non-detect", when=when),
            value=of(lambda _, row: number_or_none(row.value) if row.detected else None),
        ),
        Spec(
            f"{key}_rl",
            type=NUMBER,
            unit=worded("as in {column}", column=f"{key}_unit"),
            meaning=worded("reporting limit of the {when}", when=when),
            value=mass(lambda row: row.rl),
        ),
        Spec(
            f"{key}_unit",
            meaning="unit of value and limit",
            value=of(lambda _, row: stated_unit(row.unit)),
        ),
        Spec(
            f"{key}_shown",
            meaning="result as shown in tables, with its qualifier and, for a non-detect, its limit",
            value=of(lambda context, row: printed_text(row, context.display)),
        ),
        Spec(
            f"{key}_marks",
            meaning="qualifications, separated by a semicolon",
            value=of(lambda context, row: "; ".join(mark.word for mark in context.marks(row))),
        ),
    ]
