"""The claim ledger shows pairs as the sentences make them, each with value, rank and verdict."""

from __future__ import annotations

from builders import Change, changed, content, load

from sitegen.compute.evaluate import evaluate
from sitegen.report.evidence.ledger import ledger_page
from sitegen.report.record.pages import Cell, Page, Ref, Table
from sitegen.report.trace.printed import tables_in
from sitegen.report.write.context import Context


def page(**texts: str) -> Page:
    changes: tuple[Change, ...] = tuple(
        content(f"text/{name}.md", texts.get(name, "").encode())
        for name in ("summary", "interpretation", "conclusions", "recommendations")
    )
    survey = load(changed(*changes))
    return ledger_page(Context(survey, evaluate(survey), ()), None)


def rows(found: Page, section: str) -> list[dict[str, Cell]]:
    table = next(table for table in tables_in(found.blocks) if table.id == f"claims-{section}")
    return [dict(zip([column.key for column in table.columns], row, strict=True)) for row in table.rows]


def told(row: dict[str, Cell]) -> tuple[str, ...]:
    return tuple(row[name].text for name in ("map", "point", "said", "mass", "rank", "verdict"))


def test_pairs_stand_as_the_sentence_makes_them() -> None:
    """In the order of the list of compounds PCE comes first, and would have been put beside SG-46."""
    found = rows(page(conclusions="At SG-46 benzene is highest, and at SS-01 PCE is."), "conclusions")
    assert [told(row)[:3] for row in found] == [
        ("Benzene", "SG-46", "highest at"),
        ("Tetrachloroethene", "SS-01", "named together"),
    ]
    assert (found[0]["map"].ref, found[0]["point"].ref) == (Ref("compound", "benzene"), Ref("location", "SG-46"))


def test_value_and_rank_stand_beside_each_pair() -> None:
    (row,) = rows(page(summary="Tetrachloroethene is highest at SS-01."), "summary")
    assert told(row) == ("Tetrachloroethene", "SS-01", "highest at", "53300 E", "1 of 41", "agrees")
    assert [mark.word for mark in row["mass"].marks] == ["seal differs", "unsigned", "over range"]
    assert row["mass"].origin is not None


def test_a_false_claim_says_what_is_so() -> None:
    found = page(recommendations="* Go on at SG-12, where tetrachloroethene is highest.")
    (row,) = rows(found, "recommendations")
    assert told(row)[2:] == ("highest at", "374", "23 of 41", "differs: highest at SS-01")
    assert row["verdict"].tone == "flag"
    assert "1 statement of highest" in found.lead
    assert "1 differs" in found.lead


def test_a_comparison_shows_both_sides() -> None:
    (row,) = rows(page(conclusions="PCE is higher at SG-37 than at SG-36."), "conclusions")
    assert told(row) == ("Tetrachloroethene", "SG-37", "higher than SG-36", "116", "27 of 41", "differs (6,920)")


def test_a_group_is_shown_by_its_sum_and_a_name_without_partner_alone() -> None:
    first, second = rows(page(summary="Fuel aromatics at SG-46, unlike naphthalene."), "summary")
    assert told(first)[:3] == ("sum of fuel aromatics", "SG-46", "named together")
    assert "of" in first["mass"].text
    assert told(second)[:3] == ("Naphthalene", "SG-46", "named together")
    (alone,) = rows(page(summary="Benzene is low."), "summary")
    assert told(alone)[:3] == ("Benzene", "", "named alone")


def test_what_can_not_be_paired_is_said_not_to_be() -> None:
    found = rows(page(interpretation="While benzene is highest at SG-46, at SS-01 PCE is."), "interpretation")
    assert found[0]["said"].text.startswith("not paired")
    assert [row["point"].text for row in found if row["point"].text] == ["SG-46", "SS-01"]
    assert not [row for row in found if row["rank"].text]


def test_every_section_that_claims_has_its_table_and_leads_to_its_text() -> None:
    found = page(conclusions="One.", summary="Two.", interpretation="Three.", recommendations="Four.")
    tables: list[Table] = list(tables_in(found.blocks))
    assert [table.id for table in tables] == [
        "claims-conclusions", "claims-summary", "claims-interpretation", "claims-recommendations",
    ]  # fmt: skip
    assert [row[0].text for table in tables for row in table.rows] == ["1", "2", "3", "4"]
    assert tables[1].rows[0][0].ref == Ref("page", "start", "summary")
    assert tables[2].rows[0][0].ref == Ref("page", "report", "text-interpretation")
    assert found.lead.startswith("4 sentences of the conclusions, summary, interpretation and recommendations, each")


def test_a_survey_without_such_sections_has_an_empty_ledger() -> None:
    found = page()
    assert list(tables_in(found.blocks)) == []
    assert "  " not in found.lead
