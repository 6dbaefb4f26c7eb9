"""The site says what the store holds: every number, every non-detect, every unit."""

from __future__ import annotations

import re
from html import unescape

import pytest

from sitegen.checking import Checked
from sitegen.compute.results.store import StoredResult, stored_results
from sitegen.pipeline import Built
from sitegen.project.schema import SOIL_MEDIA
from sitegen.report.record.pages import Page, Section, Table


def table_rows(built: Built, page: str, table: str) -> list[list[str]]:
    """Return the cells of one table of a page, row by row, without marks and tags."""
    text = (built.out / "site" / page).read_text("utf-8")
    block = text[text.index(f'id="table-{table}"') :]
    body = block[block.index("<table") : block.index("</table>")]
    rows = []
    for row in re.findall(r"<tr.*?>(.*?)</tr>", body, flags=re.DOTALL):
        cells = re.findall(r"<t[hd].*?>(.*?)</t[hd]>", re.sub(r'<span class="mark.*?</span>', "", row), flags=re.DOTALL)
        rows.append([unescape(re.sub(r"<.*?>", "", cell)).strip() for cell in cells])
    return rows


def test_every_number_on_a_location_page_equals_the_store(built: Built, checked: Checked) -> None:
    """On each location page each compound's result is the laboratory's text, then the qualifier in force alone."""
    assert checked.evaluation is not None
    names = {c.name: c.analyte_id for c in checked.evaluation.compounds}
    compared = nondetects = 0
    by_point: dict[str, dict[str, StoredResult]] = {}
    for row in stored_results(checked.evaluation.primary):
        by_point.setdefault(row.location_id, {})[row.analyte_id] = row
    for point, results in by_point.items():
        printed = table_rows(built, f"locations/{point}.html", f"results-{point}")[1:]
        assert len(printed) == len(results)
        for cells in printed:
            row = results[names[cells[0]]]
            stated = row.validation_qualifier or row.lab_qualifier
            below = not row.detected and row.lab_qualifier == "U"
            assert cells[1] == f"{row.result_text} {'' if below else stated}".strip(), (point, cells)
            assert not below or row.result_text == "ND" or row.result_text.startswith("<")
            nondetects += not row.detected
            compared += 1
    assert compared == len(checked.evaluation.primary) >= 1000
    assert nondetects > 500


def tables_of(page: Page) -> list[Table]:
    found: list[Table] = []
    stack = list(page.blocks)
    while stack:
        block = stack.pop()
        if isinstance(block, Table):
            found.append(block)
        elif isinstance(block, Section):
            stack.extend(block.blocks)
    return found


def test_no_soil_number_appears_without_its_unit(built: Built, checked: Checked) -> None:
    """Each table with a soil-gas value names ng per sampler in the value's own column or its caption."""
    assert checked.evaluation is not None
    soil = {
        row.origin.cell("result_text") for row in stored_results(checked.evaluation.store) if row.medium in SOIL_MEDIA
    }
    seen = 0
    for page in built.report.pages:
        for table in tables_of(page):
            for row in table.rows:
                for column, cell in zip(table.columns, row, strict=True):
                    if cell.origin in soil:
                        assert "ng per sampler" in column.unit or "ng per sampler" in table.caption, table.id
                        seen += 1
    assert seen > 2000


def test_masses_in_sentences_carry_their_unit(built: Built) -> None:
    """No sentence of the site leaves a mass at ng without saying per sampler."""
    bare = re.compile(r"\d ng(?! per sampler)\b[^<]*")
    for path in sorted((built.out / "site").rglob("*.html")):
        text = re.sub(r"<script.*?</script>|<style.*?</style>", "", path.read_text("utf-8"), flags=re.DOTALL)
        assert not bare.search(text), (path.name, bare.search(text))


def test_no_mass_is_called_a_concentration(built: Built) -> None:
    """The words concentration of, exceeds and clean stand beside no mass."""
    wrong = re.compile(
        r"concentration of [\d,.]+ ng|ng per sampler exceeds|exceed\w* the screening level", re.IGNORECASE
    )
    for path in sorted((built.out / "site").rglob("*.html")):
        assert not wrong.search(path.read_text("utf-8")), path.name


@pytest.mark.parametrize("word", ["water", "custody", "trip blank", "over range", "surrogate", "duplicate"])
def test_marks_stand_beside_numbers(built: Built, word: str) -> None:
    """Each kind of mark reaches a location page, a compound page and the printed chapters."""
    pages = {
        p.ref.kind
        for p in built.report.pages
        for t in tables_of(p)
        for r in t.rows
        for c in r
        for m in c.marks
        if m.word == word
    }
    assert {"location", "compound"} <= pages


def test_no_sentence_runs_into_the_next(built: Built) -> None:
    """Between a full stop and the next sentence's first word stands a blank, in everything that is said."""
    said = [text for page in built.report.pages for text in (page.lead, *captions(page))]
    assert len(said) > 300
    assert [text for text in said if re.search(r"[a-z0-9)]{2}[.;:][A-Z][a-z]", text)] == []


def captions(page: Page) -> list[str]:
    return [text for table in tables_of(page) for text in (table.caption, table.note)]
