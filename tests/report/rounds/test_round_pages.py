"""Pages of earlier rounds, and what points and compounds say of other rounds."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from functools import cache

from builders import example
from hand_rounds import FILES, context, page, report, section, table, texts
from rounds_survey import second_alone

from sitegen.checking import check_snapshot
from sitegen.pipeline import compose
from sitegen.project.folder import Folder, InputFile
from sitegen.render.site.paths import page_url
from sitegen.render.site.targets import gather_targets
from sitegen.report.record.pages import Block, Cell, Chapter, PrintedValue, Prose, Ref, Report
from sitegen.report.trace.printed import tables_in
from sitegen.report.trace.sources import count_values

EARLIER = Ref("page", "round-1")
OWN = ("round-1", "rounds", "round-changes")


def test_the_numbers_of_an_earlier_round_stand_with_their_own_marks() -> None:
    """The matrix of the first round has its own results: D, which took two days longer, bears a mark."""
    assert texts(table(page(EARLIER).blocks, "matrix")) == [
        ["A", "100", "<10", "50"],
        ["B", "40", "25", "<10"],
        ["C", "<10", "<10", "20"],
        ["D", "70 [exposure]", "<10 [exposure]", "<10 [exposure]"],
        ["E1", "1000", "12", "<10"],
    ]


def test_a_point_leads_to_its_page_or_to_its_row_on_the_page_of_its_round() -> None:
    """A has a page; D and E1 are of the first round alone, and their rows carry the anchors."""
    shown = table(page(EARLIER).blocks, "locations")
    at = {row[0].text: row[0].ref for row in shown.rows}
    assert at["A"] == Ref("location", "A")
    assert at["D"] == Ref("page", "round-1", "D")
    targets = gather_targets(report().pages, ())
    assert all(targets.has(page_url(ref)) for ref in at.values() if ref)


def test_quality_and_custody_of_an_earlier_round_are_its_own() -> None:
    """One duplicate pair of five primaries, one blank without a detection, and findings on its own bag alone."""
    blocks = page(EARLIER).blocks
    assert [row[1:4] for row in texts(table(blocks, "duplicate-rates"))] == [["1", "5", "20 %"]] * 2
    assert [row[1] for row in texts(table(blocks, "blanks-analysed"))] == ["TB-1"]
    assert not table(blocks, "blanks").rows
    assert table(blocks, "blanks").empty.startswith("Nothing was detected in 3 results of 1 blank")
    about = {row[2] for row in texts(table(blocks, "custody-trouble"))}
    assert about == {"bag RB-1"}


def test_the_page_of_a_point_shows_each_round() -> None:
    """Samplers and results of both rounds side by side, E1 beside E2 which took its place."""
    found = section(page(Ref("location", "E2")).blocks, "rounds").blocks
    assert [row[:4] for row in texts(table(found, "rounds-E2"))] == [
        ["Spring round", "E1", "106", "10.0"],
        ["Autumn round", "E2", "206", "14.0"],
    ]
    assert texts(table(found, "rounds-results-E2")) == [
        ["Tetrachloroethene", "1000 [custody]", "900 [custody]", "× 0.90, no change established"],
        ["Trichloroethene", "12 [custody]", "30 [custody]", "× 2.5, no change established"],
    ]
    assert table(found, "rounds-results-E2").note.startswith(
        "Of 3 compounds with a result here in at least one round, 1 is not listed"
    )


def test_a_point_of_no_earlier_round_says_so_with_its_number() -> None:
    """G came with the supplement; one earlier round is on record."""
    (said,) = section(page(Ref("location", "G")).blocks, "rounds").blocks
    assert isinstance(said, Prose)
    told = said.markdown.replace("\\", "")
    assert told == "No sampler at this point is on record in an earlier round (1 earlier round on record)."


def test_the_page_of_a_compound_counts_and_lists_its_points() -> None:
    """Tetrachloroethene: one larger, one smaller, one within, one in neither; three points have a detection."""
    found = section(page(Ref("compound", "pce")).blocks, "since").blocks
    assert [row[:5] for row in texts(table(found, "rounds-counts-pce"))] == [
        ["Since Spring round", "soil gas", "1", "1", "1"]
    ]
    assert [row[0] for row in texts(table(found, "rounds-1-pce"))] == ["A", "B", "E2 (E1)"]


def test_print_has_a_chapter_on_rounds_and_an_annex_of_results() -> None:
    """The chapter opens with the overview; the annex has the results of both rounds without columns of limits."""
    chapters: dict[str, Chapter] = {one.id: one for one in report().chapters}
    assert next(one.id for one in tables_in(chapters["rounds"].blocks)) == "rounds"
    assert chapters["rounds-masses"].keyed
    annex = table(chapters["rounds-masses"].blocks, "changes-masses-1")
    assert [column.key for column in annex.columns] == ["point", "compound", "before", "after", "change"]
    assert len(annex.rows) == 9


def of_rounds(made: Report) -> list[PrintedValue]:
    """Return the numbers of the pages over rounds, and of the sections on other rounds."""
    return [one for one in made.values if one.page.id in OWN or one.id.startswith(("rounds", "changes-"))]


def test_every_number_over_rounds_leads_to_its_row_or_to_files() -> None:
    """None leads nowhere; a result of either round is in the row that it names, as the laboratory wrote it."""
    made = report()
    values = of_rounds(made)
    count = count_values(values, {*FILES})
    assert (count.lost, count.printed) == (0, len(values))
    rows = list(csv.DictReader(io.StringIO(FILES["lab/results.csv"])))
    masses = [one for one in values if one.column in ("before", "after") and one.origin]
    assert len(masses) > 30
    for one in masses:
        assert one.origin
        file, number, column = one.origin
        assert (file, column) == ("lab/results.csv", "result_text")
        row = rows[number - 2]
        assert one.text.removeprefix("rejected (").startswith(row["result_text"]), one
        assert (row["lab_sample_id"] < "L-200") == (one.column == "before"), one


def test_every_table_over_rounds_names_the_files_that_it_rests_on() -> None:
    """What was computed of two rounds rests on results and what they are joined to, and never on the list alone."""
    for name in OWN:
        for one in tables_in(page(Ref("page", name)).blocks):
            if one.id.startswith("changes-"):
                assert {"results", "deployments", "locations"} <= one.reads, one.id


@cache
def beside() -> Report:
    """Return the report of a second survey whose settings name the first, read beside it."""
    files = dict(second_alone().files)
    for path, file in example().files.items():
        if not path.startswith(("private/", "photos/", "records/", "theme/", "review/", "text/")):
            files[f"earlier/first/{path}"] = InputFile(f"earlier/first/{path}", file.sha256, file.content)
    return compose(check_snapshot(Folder(dict(sorted(files.items())), (), ())))[1]


def cells_of(blocks: tuple[Block, ...]) -> Iterator[Cell]:
    return (cell for one in tables_in(blocks) for row in one.rows for cell in row)


def test_an_earlier_survey_beside_the_folder_leads_nowhere_by_ids_of_its_own() -> None:
    """Both surveys have a bag RB-1 of their own: of the earlier one no cell leads to a bag, sampler or finding."""
    made = beside()
    kinds = {cell.ref.kind for cell in cells_of(page(EARLIER, made).blocks) if cell.ref}
    assert kinds <= {"location", "compound", "page"}
    assert not [mark for cell in cells_of(page(EARLIER, made).blocks) for mark in cell.marks if mark.finding]
    assert count_values(of_rounds(made), made.hashes).lost == 0


def test_a_compound_of_an_earlier_list_alone_keeps_its_name() -> None:
    """Toluene is on the list of the first survey alone, and is told by its name."""
    names = {row[0] for row in texts(table(page(Ref("page", "round-changes"), beside()).blocks, "changes-compounds-1"))}
    assert "Toluene" in names


def test_rounds_in_order_of_time_have_names() -> None:
    """What is written from the survey has the spring round before the autumn round."""
    assert [one.campaign.id for one in context().rounds] == ["R1", "R2"]


def test_of_three_rounds_each_earlier_one_has_its_page_and_its_column() -> None:
    """The supplement as a third round at A: both earlier rounds stand beside it, and what became of each since."""
    kind = 'title = "One more point"\nkind = "supplement"\nof = "R2"\naddendum = "Addendum 1 (invented)"'
    made = report(("project.toml", kind, 'title = "Third round"'), ("field/deployments.csv", "301,G,", "301,A,"))
    pages = [one for one in made.pages if one.ref.id.startswith("round-") and one.ref.id[-1].isdigit()]
    assert [one.title for one in pages] == ["Spring round", "Autumn round"]
    assert (pages[0].following, pages[1].previous) == (pages[1].ref, pages[0].ref)
    shown = table(page(Ref("location", "A"), made).blocks, "rounds-results-A")
    assert [column.title for column in shown.columns] == [
        "Compound", "Spring round", "Autumn round", "Third round", "Since Spring round", "Since Autumn round",
    ]  # fmt: skip
    # 15 / 100 = 0.15 and 15 / 400 = 0.0375, printed to two figures, half up
    assert texts(shown)[0][1:] == ["100 [custody]", "400 [custody]", "15 [custody]", "× 0.15", "× 0.038"]


def test_words_of_the_settings_stay_words() -> None:
    """A title with markup and a formula is printed as it stands, and no cell of a data file begins with a formula."""
    title = "<b>*x*</b> #let =1+1"
    made = report(("project.toml", "Spring round", title))
    said = section(page(Ref("page", "round-changes"), made).blocks, "since-1").blocks[0]
    assert isinstance(said, Prose)
    assert title not in said.markdown  # escaped there
    assert page(EARLIER, made).title == title  # plain text, which each writer escapes
