"""Numbers in the narrative lead to where they come from."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from html import unescape
from pathlib import Path

import pytest
from builders import changed, content, load

from sitegen.compute.evaluate import evaluate
from sitegen.compute.text.tokens import token_names
from sitegen.pipeline import Built
from sitegen.report.bound.front import front_pages
from sitegen.report.evidence.ledger import LEDGER, ledger_page
from sitegen.report.record.pages import Page, Prose, Ref, Section
from sitegen.report.results.mapdata import map_data
from sitegen.report.trace.printed import printed_values, tables_in
from sitegen.report.write.context import Context
from sitegen.report.write.narrative import section_text, token_ref
from sitegen.report.write.sentences import plain


@cache
def context(text: str = "") -> Context:
    """Return the example's context, with ``text`` as its objectives."""
    survey = load(changed(content("text/objectives.md", text.encode())))
    evaluation = evaluate(survey)
    return Context(survey, evaluation, ())


def written(text: str) -> Prose:
    found = section_text(context(text), "objectives")
    assert found is not None
    return found


def test_the_highest_mass_leads_to_its_row() -> None:
    """The link goes to the row that the test finds by itself as the highest."""
    rows = context().evaluation.primary
    soil = rows[rows["detected"] & (rows["analyte_id"] == "pce") & rows["medium"].isin(("soil_gas", "sub_slab"))]
    top = soil.loc[soil["value"].idxmax()]
    found = written("At most {{ max.pce }}, found at {{ detections.pce }} points, {{max.pce}} again.")
    assert found.refs == (Ref("source", top["lab_sample_id"], "pce"), Ref("compound", "pce"))
    assert re.findall(r"\]\(ref:(\d)\)", found.markdown) == ["0", "1", "0"]


def test_a_number_in_code_or_in_a_link_stays_bare() -> None:
    """A link in code would be printed, and a link in a link is none."""
    found = written("`{{ count.bags }}` and [all {{ count.bags }} bags](custody.html)")
    assert "ref:" not in found.markdown


def test_a_linked_number_is_listed_and_searched_as_it_is_read() -> None:
    """values.csv and the search hold the sentence without its links."""
    found = written("In all {{ count.bags }} bags, at most {{ max.pce }}.")
    page = Page(Ref("page", "report"), "Report", "", (found,))
    (value,) = printed_values([page], (), {})
    assert value.text == plain(found.markdown)
    assert value.text.startswith("In all 2 bags, at most 53,300 ng per sampler (SS-01")


@pytest.mark.parametrize("kind", ["count", "exposure", "max", "detections", "rl"])
def test_every_token_of_a_number_leads_to_a_page(built: Built, kind: str) -> None:
    """No number that the narrative can take is without a page, and the page is there."""
    pages = {(page.ref.kind, page.ref.id) for page in built.report.pages}
    for name in sorted(token_names(context().survey)):
        if name.startswith(f"{kind}."):
            ref = token_ref(context(), name)
            assert ref is not None, name
            assert (ref.kind, ref.id) in pages, name


def test_the_links_of_the_built_narrative_open_their_targets(built: Built) -> None:
    """Each number of the example's own text is a link, the ledger stands below it, and each target is on its page."""
    site: Path = built.out / "site"
    text = (site / "index.html").read_text("utf-8")
    own = text[text.index('<h2 id="found">') :].partition('<h2 id="people">')[0].partition("<ul>")[0]
    links = re.findall(r'<a href="([^"]+)">([^<]+)</a>', own)
    assert [unescape(words) for _, words in links] == ["55", "57", "13.0", "Claim ledger"]
    for address, _ in links:
        target, _, fragment = address.partition("#")
        assert not fragment or f'id="{fragment}"' in (site / target).read_text("utf-8")


def test_the_conclusions_and_the_claim_ledger_lead_to_each_other() -> None:
    """The section of the conclusions ends at the ledger, whose sentences lead back and whose values lead on."""
    found = context("")
    survey = load(changed(content("text/conclusions.md", b"Found: {{ max.pce }} and {{ count.bags }} bags.")))
    found = replace(found, survey=survey)
    (report,) = (page for page in front_pages(found, map_data(found), None) if page.ref.id == "report")
    (section,) = (b for b in report.blocks if isinstance(b, Section) and b.id == "text-conclusions")
    assert isinstance(section.blocks[-1], Prose)
    assert section.blocks[-1].refs == (LEDGER,)
    (table,) = (t for t in tables_in(ledger_page(found, None).blocks) if t.id == "claims-conclusions")
    assert table.rows[0][0].ref == Ref("page", "report", "text-conclusions")
    assert [row[2].ref for row in table.rows] == [token_ref(found, "max.pce"), token_ref(found, "count.bags")]


@pytest.mark.parametrize(
    "own",
    [
        "[the highest\n{{ max.pce }} of all](https://example.org/a)",
        "[a [nested] {{ max.pce }} thing](https://example.org/a)",
        "[here](https://example.org/{{ max.pce }})",
        "``as `{{ max.pce }}` here``",
        "```\n{{ max.pce }}\n```",
    ],
)
def test_a_number_in_code_or_in_a_link_of_the_author_s_own_is_no_link(own: str) -> None:
    """A link can't stand in another or in code; the same number beside it is one."""
    survey = load(changed(content("text/summary.md", f"{own}\n\nAnd {{{{ max.pce }}}}.".encode())))
    found = section_text(replace(context(""), survey=survey), "summary")
    assert found is not None
    assert found.markdown.count("](ref:0)") == 1
    assert found.markdown.rstrip(".").endswith("](ref:0)")
