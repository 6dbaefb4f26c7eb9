"""Entries that lead from a laboratory's columns to ours: [columns], [constants], [crosstab], [units], [names]."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.project.delivery.values import NO, YES
from sitegen.project.proposal.columns import Column
from sitegen.project.proposal.layouts import ANALYTES, LONG, SAMPLE_ROLES, SAMPLES
from sitegen.project.proposal.results import SPELLINGS, unit_entries
from sitegen.project.proposal.seen import Seen
from sitegen.project.proposal.sure import ASK, CERTAIN, GUESS, LEFT, LIKELY, Entry, Sure
from sitegen.project.proposal.words import common_cas, factor_of, kind_of, neat, unit_in_heading, unit_of, without_unit

_PLAIN = (
    "analyte_id",
    "cas",
    "rl",
    "mdl",
    "lab_qualifier",
    "calibration_top",
    "detected",
    "reportable",
    "limit_source",
)


def column_entries(seen: Seen) -> Iterator[Entry]:
    """Yield our columns, each with the column of the file that holds it."""
    yield from _sample(seen)
    if seen.layout.kind == LONG:
        value = seen.role("recovery", "result_text") if seen.holds_qc else seen.role("result_text")
        if value:
            yield _entry(seen, "result_text", value)
    for role in _PLAIN:
        if column := seen.role(role):
            yield _checked(seen, role, column)
    for role in ("lower", "upper"):
        if column := seen.role(role, "limits"):
            yield _entry(seen, role, column)
    if column := seen.role("unit"):
        yield _entry(seen, "unit", column)


def recovery_entries(seen: Seen) -> Iterator[Entry]:
    """Yield the column of recoveries that holds for QC rows among results, in place of that of the results."""
    recovery = seen.role("recovery")
    if recovery is None or seen.holds_qc or not seen.kinds.column or not seen.role("result_text"):
        return
    told = f"{_place(seen, recovery)}; the adjacent limits are those of a recovery"
    yield Entry("lab_qc.columns", "result_text", recovery.name, LIKELY, told)
    yield Entry("lab_qc.constants", "unit", "%", LIKELY, "recoveries are percentages")


def _sample(seen: Seen) -> Iterator[Entry]:
    if seen.layout.kind == SAMPLES:
        return
    column = seen.role("lab_sample_id", "sample", "sampler_id")
    if column is None:
        return
    if column.role == "sampler_id":
        told = f"{_place(seen, column)}; the file has no laboratory id in addition to the field id"
        yield Entry("columns", "lab_sample_id", column.name, LIKELY, told)
    else:
        yield _entry(seen, "lab_sample_id", column)


def _place(seen: Seen, column: Column) -> str:
    return f"{seen.table.ref(seen.layout.head.last, column.at)}: {column.told}"


def _entry(seen: Seen, ours: str, column: Column) -> Entry:
    return Entry("columns", ours, column.name, column.sure, _place(seen, column))


def _checked(seen: Seen, role: str, column: Column) -> Entry:
    """Return a column's entry, doubted where its unit or its words are not what they must be."""
    entry = _entry(seen, role, column)
    words = {text.lower() for text in seen.places(column) if text}
    if role in ("detected", "reportable") and not words <= {*YES, *NO}:
        odd = min(words - {*YES, *NO})
        return Entry("columns", role, column.name, GUESS, f"{entry.seen}; it contains {odd!r}, at which reading stops")
    if role in ("rl", "mdl", "calibration_top") and _other_unit(seen, column):
        return Entry("columns", role, column.name, LEFT, f"{entry.seen}; {_other_unit(seen, column)}")
    return entry


def _other_unit(seen: Seen, column: Column) -> str:
    """Say where a limit has another unit than the results, "" where nothing tells one."""
    own, value, unit = unit_in_heading(column.name), seen.role("result_text"), seen.role("unit")
    heading = unit_in_heading(value.name) if value else None
    theirs = {unit_of(text) for text in unit.cells} if unit else {unit_of(heading[1])} if heading else set()
    if own and theirs and theirs != {unit_of(own[1])}:
        return f"its unit {own[1]!r} differs from that of the results"
    for other in seen.layout.left:
        units = {unit_of(text) for text in other.cells}
        if units and "" not in units and units != theirs:
            place = seen.table.ref(seen.layout.head.last, other.at)
            return f"{place} {other.name!r} also gives units, different from those of the results"
    return ""


def crosstab_entries(seen: Seen) -> Iterator[Entry]:
    """Yield what goes across, which rows hold something for it, suffixes, and columns to pass over."""
    layout, table = seen.layout, seen.table
    if layout.kind == LONG:
        return
    first, last = layout.across[0], layout.across[-1]
    ends = [f"{table.ref(layout.head.last, column.at)} {column.name!r}" for column in (first, last)]
    told = " to ".join(ends)
    yield Entry("crosstab", "across", "samples" if layout.kind == SAMPLES else "analytes", CERTAIN, told)
    rows = {role: row for role, row in layout.rows.items() if role in ("rl", "mdl", "cas", "unit", "calibration_top")}
    for role, row in rows.items():
        first_cell = next(filter(None, table.rows[row]))
        told = f"row {table.numbers[row]} begins with {first_cell!r}"
        yield Entry("crosstab.rows", role, table.numbers[row], CERTAIN, told)
    for role, suffix in layout.suffixes.by_column.items():
        at = next(at for at, stem in layout.suffixes.stems.items() if stem[1] == role)
        told = f"{table.ref(layout.head.last, at)} {layout.head.names[at]!r}"
        yield Entry("crosstab.suffixes", role, suffix, CERTAIN, told)
    if over := [*layout.controls, *ignored(seen)]:
        told = "; ".join(f"{table.ref(layout.head.last, column.at)} {column.name!r}" for column in over[:8])
        told += ": they are not read"
        if layout.controls:
            told += f"; {len(layout.controls)} belong to control samples: enter lab/lab_qc.csv by hand"
            told += ", or list them under [crosstab.qc]"
        sure: Sure = GUESS if layout.controls else LIKELY
        yield Entry("crosstab", "ignore", [column.name for column in over], sure, told)


def ignored(seen: Seen) -> list[Column]:
    """Return the columns of a cross-tab that are neither at its side nor across."""
    mapped = {"analyte_id", "cas", "unit", *_PLAIN, "lower", "upper", "limits"}
    sides = [column for role, column in seen.layout.roles.items() if role not in mapped]
    used = {column.at for column in (_used_sides(seen))}
    return sorted((c for c in (*seen.layout.left, *sides) if c.at not in used), key=lambda column: column.at)


def _used_sides(seen: Seen) -> list[Column]:
    """Return the side columns that another table of the mapping takes: those are not across anyway."""
    if seen.layout.kind == SAMPLES:
        return []
    listed = (*SAMPLE_ROLES, "type", "dilution", "method", "batch_id", "analysed_at", "lab_received_at")
    kinds = [column for column in seen.layout.roles.values() if column.at == seen.kinds.at]
    return [column for role in listed if (column := seen.role(role))] + kinds


def unit_and_factor(seen: Seen) -> Iterator[Entry]:
    """Yield where the unit stands, and the factor of each spelling."""
    if column := seen.role("unit"):
        yield from unit_entries(
            {text: place for text, place in seen.places(column, seen.rows).items() if _counts(seen, text)}
        )
    elif "unit" in seen.layout.rows:
        yield from unit_entries(seen.held(seen.layout.rows["unit"]))
    elif found := _unit_of_all(seen):
        spelling, entry = found
        yield entry
        yield from unit_entries({spelling: entry.seen}) if not seen.holds_qc else ()
    else:
        do = "no column, heading or line gives the unit: state which, from the laboratory's report"
        yield Entry("constants", "unit", "ng", ASK, do)
        yield Entry("units", "ng", 1, ASK, "with the spelling written under [constants]")
    if seen.holds_qc:
        yield Entry("units", "%", 1, LEFT, "QC rows keep their own unit")


def _counts(seen: Seen, text: str) -> bool:
    return bool(text) and not (seen.holds_qc and factor_of(unit_of(text)) is None)


def _unit_of_all(seen: Seen) -> tuple[str, Entry] | None:
    """Return the unit that a heading or a line around the table tells for all results."""
    layout, table = seen.layout, seen.table
    value = seen.role("recovery", "result_text") if seen.holds_qc else seen.role("result_text")
    heads = layout.across[:1] if layout.kind != LONG else [value] if value else []
    for column in heads:
        if found := unit_in_heading(column.name):
            told = f"{table.ref(layout.head.last, column.at)} {column.name!r}"
            return found[1], Entry("constants", "unit", found[1], CERTAIN, told)
    if seen.holds_qc:
        told = "recoveries are percentages"
        return "%", Entry("constants", "unit", "%", LIKELY, told)
    if said := seen.around.get("unit"):
        return said.text, Entry("constants", "unit", said.text, LIKELY, f"{said.cell} says {said.text!r}")
    return None


def compounds_of(seen: Seen) -> dict[tuple[str, str], str]:
    """Return the compounds of results, as name and CAS number, each with the cell that names it first."""
    layout, table = seen.layout, seen.table
    if layout.kind == ANALYTES:
        row = layout.rows.get("cas")
        return {
            (layout.suffixes.name(one), table.cell(row, one.at) if row is not None else ""): table.ref(
                layout.head.last, one.at
            )
            for one in layout.across
        }
    name, cas = seen.role("analyte_id"), seen.role("cas")
    found: dict[tuple[str, str], str] = {}
    for at in seen.rows:
        pair = table.cell(at, name.at) if name else "", table.cell(at, cas.at) if cas else ""
        side = name or cas
        if side and any(pair) and pair not in found:
            found[pair] = table.ref(at, side.at)
    return found


_SAY_COMPOUND = (
    "state which compound of lab/analytes.csv it is; a sum or total belongs in skip_containing under [source]"
)


def name_entries(seen: Seen) -> Iterator[Entry]:
    """Yield the names that lead to no compound of the folder by themselves."""
    if seen.holds_qc:
        return
    for (name, cas), place in list(compounds_of(seen).items())[: 5 * SPELLINGS]:
        found = seen.known.compounds.find(name, cas)
        if found.analyte_id or found.problem or not name:
            continue
        common = common_cas(without_unit(name))
        by_cas = seen.known.compounds.find("", common).analyte_id if common and not cas else ""
        if by_cas:
            yield Entry("names", name, by_cas, LIKELY, f"{place}: by common practice {common}")
        elif not cas and kind_of("qc", neat(name)) == "":
            hint = f" (by common practice {common}: add it there if it is missing)" if common else ""
            yield Entry("names", name, "", ASK, f"{place}: {_SAY_COMPOUND}{hint}")
