"""A laboratory's own files give the results that they hold, or say why they can't."""

from __future__ import annotations

import hashlib
from collections.abc import Callable

import pandas as pd
import pytest
from in_memory import example, example_with
from lab_files import crosstab_xlsx, csv_bytes, long_csv, mixed_xlsx, rows
from small_delivery import simple

from sitegen.findings.problems import Finding, Severity
from sitegen.project.delivery.tables import mapping_preview
from sitegen.project.load import load_folder
from sitegen.project.survey import Survey
from sitegen.project.tables import Result

LAYOUTS: dict[str, Callable[[], tuple[bytes, str]]] = {
    "lab/long.csv": long_csv,
    "lab/cross.xlsx": crosstab_xlsx,
    "lab/mixed.xlsx": mixed_xlsx,
}
SEMICOLONS = b'\n[files."lab/long.csv"]\ndelimiter = ";"\n'


def survey_from(*files: str, **more: bytes | None) -> tuple[Survey, list[Finding]]:
    """Load the example with its results in laboratory files instead of results.csv."""
    changes: dict[str, bytes | None] = {"lab/results.csv": None}
    changes["project.toml"] = (example().content("project.toml") or b"") + SEMICOLONS
    for file in files:
        content, mapping = LAYOUTS[file]()
        digest = hashlib.sha256(content).hexdigest()
        sealed = mapping.replace("[source]", f'[source]\nsha256 = "{digest}"')
        changes |= {file: content, f"{file.partition('.')[0]}.map.toml": sealed.encode()}
    survey, findings = load_folder(example_with(changes | more))
    assert survey is not None
    return survey, findings


@pytest.mark.parametrize("file", LAYOUTS)
def test_three_layouts_of_the_same_data_give_equal_results_cell_by_cell(file: str) -> None:
    survey, findings = survey_from(file)
    assert {finding.code for finding in findings} <= {"rows-passed-over"}
    mapped = {(r.lab_sample_id, r.analyte_id): r._asdict() for r in survey.rows(Result)}
    plain = rows("lab/results.csv")
    assert len(mapped) == len(plain) == len(survey.frame("results"))
    for row in plain:
        found = mapped[row["lab_sample_id"], row["analyte_id"]]
        for name in ("unit", "lab_qualifier", "detected"):
            assert found[name] == row[name], (name, row)
        for name in ("value", "rl", "mdl", "calibration_top"):
            expected = float(row[name]) if row[name] else None
            assert (found[name] == expected) if expected is not None else pd.isna(found[name]), (name, row)


@pytest.mark.parametrize("file", ["lab/cross.xlsx", "lab/mixed.xlsx"])
def test_a_result_keeps_the_text_that_the_laboratory_wrote(file: str) -> None:
    survey, _ = survey_from(file)
    texts = {(r.lab_sample_id, r.analyte_id): r.result_text for r in survey.rows(Result)}
    assert texts == {(r["lab_sample_id"], r["analyte_id"]): r["result_text"] for r in rows("lab/results.csv")}


def test_qc_rows_mixed_in_equal_those_of_our_own_table() -> None:
    survey, findings = survey_from("lab/mixed.xlsx", **{"lab/lab_qc.csv": None})
    plain, _ = load_folder(example())
    assert plain is not None
    columns = [column.name for column in survey.tables["lab_qc"].spec.columns]
    pd.testing.assert_frame_equal(survey.frame("lab_qc")[columns], plain.frame("lab_qc")[columns])
    assert "file-absent" not in {finding.code for finding in findings}


def test_a_result_leads_to_file_sheet_row_and_column_of_the_laboratory() -> None:
    survey, _ = survey_from("lab/cross.xlsx")
    table = survey.tables["results"]
    found = table.frame[(table.frame["lab_sample_id"] == "04417-002") & (table.frame["analyte_id"] == "cis12dce")]
    index = found.index[0]
    # Title row, blank row, header, then compounds in the order of the list: the third is row 6.
    assert (found.at[index, "_file"], found.at[index, "_row"]) == ("lab/cross.xlsx", 6)
    assert (found.at[index, "_sheet"], found.at[index, "_column"]) == ("Data", "04417-002")
    assert table.raw.at[index, "analyte_id"] == "cis-1,2-Dichloroethene"
    assert survey.stamp("results", index).sha256 == survey.folder.sha256("lab/cross.xlsx")


def test_micrograms_become_nanograms_exactly_and_the_raw_text_stays() -> None:
    survey, _ = survey_from("lab/long.csv")
    table = survey.tables["results"]
    index = table.frame.index[table.frame["value"] == 3.6][0]
    assert table.raw.at[index, "result_text"] == "0.0036 J"
    assert (table.raw.at[index, "unit"], table.frame.at[index, "unit"]) == ("ug/sampler", "ng")


def test_two_files_that_give_the_same_results_are_told_once() -> None:
    """However many results both give, one finding asks which of the two files stands."""
    _, findings = survey_from("lab/long.csv", "lab/cross.xlsx")
    stops = [finding for finding in findings if finding.severity is Severity.STOP]
    assert [finding.code for finding in stops] == ["deliverable-reissued"]
    assert stops[0].found.startswith("lab/cross.xlsx and lab/long.csv both give 1,386 results; ")


def test_results_csv_and_a_laboratory_file_add_up_where_they_do_not_overlap() -> None:
    lines = (example().content("lab/results.csv") or b"").splitlines(keepends=True)
    content = csv_bytes([["s", "c", "r", "u"], ["04417-001", "pce", "7", "ng"]])
    mapping = simple(file="lab/a.csv")
    kept = [line for line in lines if not line.startswith(b"04417-001,pce,")]
    changes = {"lab/a.csv": content, "lab/a.map.toml": mapping.encode()}
    survey, findings = load_folder(example_with(changes | {"lab/results.csv": b"".join(kept)}))
    assert survey is not None
    assert [finding.code for finding in findings] == ["deliverable-unsealed"]
    assert len(survey.frame("results")) == len(lines) - 1
    _, findings = load_folder(example_with(changes | {"lab/results.csv": b"".join(lines)}))
    (twice,) = [finding for finding in findings if finding.code == "duplicate-key"]
    assert (twice.subject, str(twice.where)) == ("04417-001+pce", "lab/a.csv, row 2, column r")


def test_a_preview_shows_original_rows_beside_mapped_rows() -> None:
    survey, _ = survey_from("lab/long.csv", "lab/mixed.xlsx")
    long, mixed = mapping_preview(survey)
    assert (long.mapping, long.file, long.layout) == ("lab/long.map.toml", "lab/long.csv", "long")
    assert long.sha256 == survey.folder.sha256("lab/long.csv")
    assert [row.number for row in long.rows] == list(range(2, 12))
    first = long.rows[0]
    assert dict(zip(long.header, first.original, strict=True))["Parameter"] == "PERC"
    ((table, cells),) = first.mapped
    assert dict(zip(long.columns[table], cells, strict=True))["analyte_id"] == "pce"
    assert (mixed.results, mixed.qc_rows, mixed.passed_over) == (1386, 192, 1)
