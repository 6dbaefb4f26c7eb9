"""Laboratory files with more than one table, with controls across, and with words of other languages."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pytest
from laboratory import COMPOUNDS, SERIALS, Laboratory, book_of, csv_of, lab_id
from test_proposal import confirmed, folder_with, loaded

from sitegen.project.proposal import table
from sitegen.project.proposal.draft import Draft, Drafts, draft_mappings
from sitegen.project.proposal.known import known_of
from sitegen.project.read.xlsxtext import Sheet
from sitegen.project.tables import LabControl, LabSample, Result

Rows = list[list[object]]
FIRST, SECOND = SERIALS[:3], SERIALS[3:6]
NAMES = [name for name, _ in COMPOUNDS.values()]


def laboratory_of(rows: Rows, delimiter: str = ",", encoding: str = "utf-8") -> Laboratory:
    """Return a laboratory whose CSV has some rows."""
    settings = f'[files."lab/x.csv"]\nencoding = "{encoding}"\ndelimiter = "{delimiter}"\n'
    return Laboratory("lab/x.csv", csv_of(rows, delimiter, encoding), frozenset(), {}, settings=settings)


def drafts_of(of: Laboratory) -> Drafts:
    """Return what is drafted for a laboratory's file."""
    folder = folder_with(of)
    return draft_mappings(folder, of.file, known_of(folder))


def only(of: Laboratory) -> Draft:
    """Return the one draft of a file."""
    (draft,) = drafts_of(of).drafts
    return draft


def values(of: Laboratory) -> dict[tuple[str, str], tuple[str, float, float]]:
    """Return what a confirmed draft reads: text, value and limit by sample and compound."""
    draft = only(of)
    survey, findings = loaded(of, {draft.path: confirmed(draft, of.answers)})
    places = (of.file, draft.path)
    assert [f.line() for f in findings if f.severity.value == "stop" and f.where.file in places] == []
    return {(row.lab_sample_id, row.analyte_id): (row.result_text, row.value, row.rl) for row in survey.rows(Result)}


def long_rows(serials: list[str], head: list[object], cells: list[object]) -> Rows:
    """Return a long table of two compounds below a header."""
    return [head, *([lab_id(s), s, name, *cells] for s in serials for name in NAMES[:2])]


def swapped() -> Rows:
    """Put a second job below the first, its limit where the first has the result."""
    first = long_rows(FIRST, ["Lab ID", "Client ID", "Analyte", "Result", "Units", "RL"], [12, "ng", 5])
    second = long_rows(SECOND, ["Lab ID", "Client ID", "Analyte", "RL", "Units", "Result"], [5, "ng", 12])
    return [*first, ["Job 2"], *second]


def crosstab(serials: list[str], names: list[str], unit: str) -> Rows:
    """Return a cross-tab with samples across."""
    head: list[object] = ["Compound", *map(lab_id, serials)]
    return [head, ["Serial", *serials], ["Units", *[unit] * 3], *([name, 5, 6, 7] for name in names)]


def samples_again() -> Rows:
    """Put a second cross-tab of other samples, compounds and units below the first."""
    return [*crosstab(FIRST, NAMES[:2], "ng"), [], *crosstab(SECOND, NAMES[2:4], "ug")]


def compounds_again() -> Rows:
    """Put a second cross-tab of other compounds below the first."""
    first, second = ([f"{name} (ng)" for name in two] for two in (NAMES[:2], NAMES[2:4]))
    rows: Rows = [["Lab ID", "Client ID", *first], *([lab_id(s), s, 5, 6] for s in FIRST)]
    return [*rows, [], ["Lab ID", "Client ID", *second], *([lab_id(s), s, 7, 8] for s in SECOND)]


def two_lines_again() -> Rows:
    """Repeat the last line of a header of two, below a line with other samples."""
    rows: Rows = []
    for serials in (FIRST, SECOND):
        rows += [["", *(cell for s in serials for cell in (lab_id(s), ""))], ["Compound", *["Result", "Qual"] * 3]]
        rows += [[name, *["12", "J"] * 3] for name in NAMES[:3]]
    return rows


def blocks() -> Rows:
    """Write a table for each sample below two lines with its ids."""
    rows: Rows = []
    for serial in FIRST:
        rows += [["Client ID:", serial], ["Lab ID:", lab_id(serial)], ["Analyte", "Result", "Units", "RL"]]
        rows += [[NAMES[4], 5, "ng", 1], [NAMES[5], "ND", "ng", 1], []]
    return rows


def beside() -> Rows:
    """Put two tables beside each other."""
    head: list[object] = ["Lab ID", "Client ID", "Analyte", "Result", "Units"]
    first, second = ([[lab_id(s), s, NAMES[4], 5, "ng"] for s in serials] for serials in (FIRST, SECOND))
    return [[*head, "", *head], *([*one, "", *other] for one, other in zip(first, second, strict=True))]


TWO_TABLES: dict[str, tuple[Callable[[], Rows], str, str]] = {
    "result and limit swapped": (swapped, "A9", "a second header"),
    "samples across twice": (samples_again, "A7", "a second header"),
    "compounds across twice": (compounds_again, "A6", "a second header"),
    "one line of two repeated": (two_lines_again, "D2", "has no column"),
    "a block for each sample": (blocks, "A7", "a second header"),
    "side by side": (beside, "J2", "2 times"),
}


@pytest.mark.parametrize("name", TWO_TABLES)
def test_a_second_table_is_never_read_by_the_header_of_the_first(name: str) -> None:
    """Other samples, compounds, units or columns below or beside the first table stop the draft at their header."""
    rows, cell, why = TWO_TABLES[name]
    drafts = drafts_of(laboratory_of(rows()))
    assert drafts.drafts == ()
    (refusal,) = drafts.refused
    assert (refusal.cell, why in refusal.why) == (cell, True), refusal


def test_a_repeated_header_below_a_title_is_no_second_table() -> None:
    """Jobs below one another under the same header are read together."""
    head: list[object] = ["Lab ID", "Client ID", "Analyte", "Result", "Units", "RL"]
    rows: Rows = [["Job 1"], *long_rows(FIRST, head, [12, "ng", 5]), ["Job 2"], *long_rows(SECOND, head, [14, "ng", 5])]
    read = values(laboratory_of(rows))
    assert len(read) == 12
    assert {sample: value for (sample, _), (_, value, _) in read.items()} == {
        **{lab_id(s): 12 for s in FIRST}, **{lab_id(s): 14 for s in SECOND},
    }  # fmt: skip


def wide_with_controls() -> Laboratory:
    """Put a method blank and two columns of a control sample beside samples, without samplers."""
    across: list[object] = [*map(lab_id, FIRST), "MB-1", "LCS-1", "LCS % Rec"]
    rows: Rows = [["Compound", "CAS", *across], ["Serial", "", *FIRST], ["Units", "", *["ng"] * 5, "%"]]
    rows += [[*pair, 12, "ND", "<5", "<5", 98, 97] for pair in COMPOUNDS.values()]
    return Laboratory("lab/x.xlsx", book_of(("Data", rows, [])), frozenset(), {})


def test_controls_across_are_no_results_and_their_samples_are_tied() -> None:
    """Columns of control samples are passed over as a guess; serials tie the others though some have none."""
    of = wide_with_controls()
    (over,) = [entry for entry in only(of).entries if entry.key == "ignore"]
    assert (over.value, over.sure) == (["LCS-1", "LCS % Rec"], "a guess")
    assert "enter lab/lab_qc.csv by hand" in over.seen
    read = values(of)
    assert {sample for sample, _ in read} == {*map(lab_id, FIRST), "MB-1"}
    draft = only(of)
    survey, _ = loaded(of, {draft.path: confirmed(draft, {})})
    assert len(survey.rows(LabControl)) == 0
    assert {(row.sampler_id, row.type) for row in survey.rows(LabSample) if row.lab_sample_id == "MB-1"} == {
        ("", "method_blank")
    }


def test_a_sample_with_the_letters_of_a_control_is_read_where_it_has_a_sampler() -> None:
    """BS-1 is a blank spike by its letters, and a sample by the serial below it."""
    rows: Rows = [
        ["Compound", "BS-1", "BS-2"],
        ["Serial", *FIRST[:2]],
        ["Units", "ng", "ng"],
        *([n, 5, 6] for n in NAMES),
    ]
    read = values(laboratory_of(rows))
    assert {sample for sample, _ in read} == {"BS-1", "BS-2"}


def test_merged_ranges_without_end_are_filled_in_few_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    """A sheet merged in each of its rows costs as much as its header, not as its rows times its ranges."""
    rows: Rows = [["Compound", *map(lab_id, FIRST)], ["Units", *["ng"] * 3]]
    rows += [["Units" if at % 2 else NAMES[0], 5, 6, 7] for at in range(600)]
    filled: list[int] = []
    whole = table.across_merged

    def counted(sheet: Sheet, cells: Mapping[int, list[str]], number: int) -> list[str]:
        filled.append(number)
        return whole(sheet, cells, number)

    monkeypatch.setattr(table, "across_merged", counted)
    monkeypatch.setattr(table, "FILLED", 30_000)
    content = book_of(("Data", rows, [f"A{at}:A{at}" for at in range(1, 602)]))
    drafts_of(Laboratory("lab/x.xlsx", content, frozenset(), {}))
    assert 0 < len(filled) <= 2 * 30_000 / 601


def test_a_limit_in_brackets_behind_a_non_detect_is_its_limit() -> None:
    """``ND (5)`` is a non-detect with a limit of 5, whatever sign of the kind the laboratory uses."""
    head: list[object] = ["Lab ID", "Client ID", "Analyte", "Result", "Units"]
    pairs = list(zip(NAMES, ("ND (5)", "ND(2.5)", "<3", "12", "5 U", "1.2e3"), strict=True))
    rows: Rows = [head, *([lab_id(s), s, *pair, "ng"] for s in FIRST for pair in pairs)]
    of = laboratory_of(rows)
    (signs,) = [entry for entry in only(of).entries if entry.key == "less_than_prefix"]
    assert signs.value == ["ND (", "ND(", "<"]
    read = values(of)
    kept = [str(read[lab_id(FIRST[0]), analyte][1:]) for analyte in COMPOUNDS]
    assert kept == ["(nan, 5.0)", "(nan, 2.5)", "(nan, 3.0)", "(12.0, nan)", "(nan, 5.0)", "(1200.0, nan)"]


def test_of_limits_in_two_units_that_of_the_results_is_read() -> None:
    """A mass and a concentration stand beside each other, each with its limit."""
    head: list[object] = [
        "Sampler Serial",
        "Analyte",
        "Conc (ug/m3)",
        "Conc (ppbv)",
        "Mass (ng)",
        "RL (ug/m3)",
        "RL (ng)",
    ]
    rows: Rows = [head, *([s, name, 0.5, 0.1, 12, 0.2, 5] for s in FIRST for name in NAMES)]
    assert set(values(laboratory_of(rows)).values()) == {("12", 12.0, 5.0)}


SPANISH = ["Muestra", "Nº de muestreador", "Compuesto", "Nº CAS", "Resultado", "Unidad", "Límite de cuantificación"]
ITALIAN = [
    "Campione",
    "Campionatore",
    "Composto",
    "Numero CAS",
    "Risultato",
    "Unità di misura",
    "Limite di quantificazione",
]
DUTCH = ["Monster", "Buisnummer", "Stof", "CAS-nummer", "Resultaat", "Eenheid", "Rapportagegrens"]


@pytest.mark.parametrize("head", [SPANISH, ITALIAN, DUTCH])
def test_headings_of_other_languages_are_known(head: list[object]) -> None:
    """Numbers with blanks between thousands and commas for decimals among them, saved in cp1252."""
    texts = ("1 234,5", "<0,5", "n.d.", "5,0", "0,75", "12,25")
    pairs = list(zip(COMPOUNDS.values(), texts, strict=True))
    rows: Rows = [["Laboratorio (inventado)"], head]
    rows += [[lab_id(s), s, *pair, text, "ng", "0,5"] for s in FIRST for pair, text in pairs]
    read = values(laboratory_of(rows, ";", "cp1252"))
    kept = [str(read[lab_id(FIRST[0]), analyte][1]) for analyte in COMPOUNDS]
    assert kept == ["1234.5", "nan", "nan", "5.0", "0.75", "12.25"]
    assert {limit for _, _, limit in read.values()} == {0.5}


def test_a_spike_among_samples_is_never_a_sample_by_default() -> None:
    """An id without a sampler, where others have one, is asked for; nothing of it is read until a person says."""
    head: list[object] = ["Lab ID", "Client ID", "Analyte", "Result", "Units"]
    rows: Rows = [head]
    for serial in FIRST:
        rows += [[lab_id(serial), serial, name, 12, "ng"] for name in NAMES]
        rows += [[f"{lab_id(serial)} MS", "", name, 900, "ng"] for name in NAMES]
    of = laboratory_of(rows)
    draft = only(of)
    asked = {entry.key: entry.value for entry in draft.asked}
    assert asked == {f"{lab_id(serial)} MS": "" for serial in FIRST}
    _, findings = loaded(of, {draft.path: confirmed(draft, {})})
    assert "sample-kind-unmapped" in {f.code for f in findings if f.severity.value == "stop"}
