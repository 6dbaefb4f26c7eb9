"""The page on mapping files tells a joined header, who compared a draft, and what a re-issue changed."""

from __future__ import annotations

import hashlib
from functools import cache

from in_memory import example, example_with
from lab_files import long_csv
from whole_book import TABLES, whole_book

from sitegen.compute.evaluate import evaluate
from sitegen.project.load import load_folder
from sitegen.report.evidence.mapping import mapping_pages
from sitegen.report.record.pages import Facts, Page, Prose, Section, Table
from sitegen.report.trace.printed import tables_in
from sitegen.report.trace.sources import source_pages
from sitegen.report.write.context import Context
from sitegen.report.write.publish import publishable, relabel, substitutes

CONTENT, MAPPING = long_csv()
FORMER = CONTENT.replace(b"0.0036 J", b"0.0041 J", 1)
CONFIRMED = '[confirmed]\nmapping = "LR-9"\ncontrol = "{control}"\n'


@cache
def context(control: str = "LR-9", level: str = "internal") -> Context:
    """Return the example with results from a file that replaces another, by a draft that LR-9 confirmed."""
    settings = (example().content("project.toml") or b"").replace(b'level = "internal"', f'level = "{level}"'.encode())
    assert level.encode() in settings
    settings += b'\n[files."lab/long.csv"]\ndelimiter = ";"\n'
    lines = CONTENT.split(b"\r\n")
    two = b"\r\n".join([b";;;Amount;;;;;", *lines])
    mapping = MAPPING.replace("[source]", '[source]\nreplaces = "records/long.csv"\nheader_row = [1, 2]', 1)
    mapping = mapping.replace('"Result"', '"Amount / Result"') + CONFIRMED.format(control=control)
    files = {
        "lab/results.csv": None,
        "project.toml": settings,
        "lab/long.csv": two,
        "lab/long.map.toml": mapping.encode(),
        "records/long.csv": b"\r\n".join([b";;;Amount;;;;;", FORMER]),
    }
    survey, findings = load_folder(example_with(files))
    assert survey is not None
    assert {f.code for f in findings} <= {"deliverable-unsealed", "control-unconfirmed"}, findings
    survey = publishable(survey)
    return Context(survey, evaluate(survey), ())


def section(of: Context) -> Section:
    """Return the section on the mapping file."""
    (page,) = mapping_pages(of)
    (only,) = page.blocks
    assert isinstance(only, Section)
    return only


def facts(of: Context) -> dict[str, str]:
    """Return what the section says of the mapping, by its labels."""
    (said,) = [block for block in section(of).blocks if isinstance(block, Facts)]
    return {label: cell.text for label, cell in said.rows}


def test_the_header_of_two_rows_is_shown_as_it_is_joined() -> None:
    """Rows as received stand below the names that the mapping goes by."""
    received = next(block for block in section(context()).blocks if isinstance(block, Table))
    assert [column.title for column in received.columns][:6] == [
        "Row", "Lab No.", "CAS No.", "Parameter", "Amount / Result", "Units",
    ]  # fmt: skip
    assert received.rows[0][0].text == "3"
    assert facts(context())["Header rows"] == "1, 2, joined from top to bottom"


def test_the_page_says_who_compared_a_draft() -> None:
    """The role code where it may be shown; who nobody names is never made up."""
    assert facts(context())["Mapping"] == "drafted by the program, compared with the laboratory's report by LR-9"
    assert facts(context())["Control totals"].endswith("compared with the signed report by LR-9")
    assert "not compared with the signed report" in facts(context(control=""))["Control totals"]
    assert not [text for text in facts(context(control="")).values() if "typed" in text]


def test_a_role_that_may_not_be_shown_is_a_role() -> None:
    """A code that stands in the mapping alone is withheld like every other."""
    public = context(level="public")
    shown = relabel(facts(public), substitutes(public.survey))
    assert shown["Mapping"].endswith("by a role")
    assert not [text for text in shown.values() if "LR-9" in text]


def test_a_re_issue_is_told_in_words_and_as_a_table() -> None:
    """Which file replaces which, its SHA-256, how many results differ, and each of them."""
    blocks = section(context()).blocks
    (said,) = [block.markdown for block in blocks if isinstance(block, Prose)]
    former = hashlib.sha256(context().survey.folder.content("records/long.csv") or b"").hexdigest()
    assert "lab/long.csv replaces the previous issue records/long.csv" in said.replace("\\", "")
    assert former in said
    assert "1,386 results are in both; 1 differs." in said
    differing = blocks[-1]
    assert isinstance(differing, Table)
    ((sample, compound, before, now),) = differing.rows
    assert sample.text.startswith("04417-")
    assert compound.text
    assert (before.text, now.text) == ("0.0041 J", "0.0036 J")


def test_the_source_of_a_result_says_which_issue_its_file_replaces() -> None:
    """Whoever follows a number to its row sees that the file was issued again."""
    page: Page = next(page for page in source_pages(context()) if page.ref.id == "04417-001")
    (said,) = [block for block in page.blocks if isinstance(block, Facts)]
    step = dict(said.rows)["Mapping step"].text
    assert step.endswith("; the file replaces records/long.csv")


def test_supplied_samples_and_compounds_stand_beside_their_rows() -> None:
    """The page shows what a file makes of our lists, as it does for results."""
    survey, _ = load_folder(example_with(dict.fromkeys(TABLES) | dict(whole_book())))
    assert survey is not None
    (page,) = mapping_pages(Context(survey, evaluate(survey), ()))
    shown = {table.id for table in tables_in(page.blocks) if table.id.startswith("mapped")}
    assert shown == {"mapped-1-analytes", "mapped-2-lab_qc", "mapped-3-results", "mapped-4-lab_samples"}
