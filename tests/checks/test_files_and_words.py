"""Rules on paths, photographs, ids, labels and the narrative, row by row and line by line."""

from __future__ import annotations

import pytest
from builders import Row, changed, content, load, settings_added, text
from few_rows import survey_of, told
from journeys import folder

from sitegen.checks import comments, files, narrative
from sitegen.project.survey import Survey


def scans(*paths: str) -> Survey:
    """Return shipments with the scans of their forms, of which one is in the folder."""
    rows: list[Row] = [
        {"shipment_id": f"R-{n}", "direction": "return", "scan_file": path} for n, path in enumerate(paths)
    ]
    return load(changed(content("records/there.pdf", b"x"), folder=folder({"shipments": rows})))


@pytest.mark.parametrize(
    ("path", "code"),
    [
        ("records/there.pdf", ""),
        ("", ""),
        ("records/gone.pdf", "scan-missing"),
        ("private/names.csv", "path-private"),
        ("records/private/", "scan-missing"),
        ("../private/names.csv", "path-unsafe"),
        ("C:/names.csv", "path-unsafe"),
        ("records\\there.pdf", "path-unsafe"),
    ],
)
def test_a_path_is_inside_not_private_and_there(path: str, code: str) -> None:
    found = [(f.code, f.subject, f.where.row, f.found) for f in files.paths_in_cells(scans(path))]
    assert found == ([(code, f"shipments+{path}", 2, path)] if code else [])


def test_a_path_named_in_several_rows_is_told_once_at_the_first() -> None:
    (found,) = files.paths_in_cells(scans("records/there.pdf", "records/gone.pdf", "", "records/gone.pdf"))
    assert (found.where.row, found.found) == (3, "records/gone.pdf, listed in 2 rows")


def test_a_missing_photograph_has_a_word_of_its_own_and_one_that_is_not_listed_is_told() -> None:
    """Only one to publish needs words; the folder's own README is no photograph."""
    rows = [{"file": "photos/a.png", "publish": "yes"}, {"file": "photos/b.png", "publish": "no"},
            {"file": "photos/c.png", "publish": "yes", "alt_text": "A yard."}]  # fmt: skip
    there = [content(f"photos/{name}", b"x") for name in ("a.png", "b.png", "d.png", "README.txt")]
    survey = load(changed(*there, folder=folder({"photos": rows})))
    assert [f.code for f in files.paths_in_cells(survey)] == ["photo-missing"]
    assert told(files.photos(survey)) == [
        "photo photos/a.png (2 alt_text): no alternative text",
        "file photos/d.png (None None): an unlisted photograph",
    ]


def test_ids_that_differ_by_case_zeros_or_signs_alone_are_told_beside_the_first() -> None:
    """The same id twice is another fault; zeros within a number count."""
    names = ("P-1", "p_01", "P-10", "P 1", "P-1", "P-100")
    places = [{"location_id": name, "medium": "soil_gas"} for name in names]
    found = [f.found for f in files.ids_differ(survey_of({"locations": places}))]
    assert found == ["p_01, in addition to P-1", "P 1, in addition to P-1"]


@pytest.mark.parametrize(
    ("level", "withheld", "tells"),
    [("public", "", True), ("client", "location_ids", True), ("client", "role_codes", False), ("internal", "", False)],
)
def test_every_point_has_a_label_of_its_own_where_ids_are_left_out(level: str, withheld: str, *, tells: bool) -> None:
    places = [
        {"location_id": f"P-{n}", "medium": "soil_gas", "public_label": word} for n, word in enumerate(("A", "", "A"))
    ]
    settings = f'[publish]\nlevel = "{level}"\nwithhold = [{f"{withheld!r}" if withheld else ""}]'
    survey = load(changed(settings_added(settings), folder=folder({"locations": places})))
    assert (
        told(files.public_labels(survey))
        == [
            "location P-1 (3 public_label): no public label",
            "location P-2 (4 public_label): the label of another point",
        ]
        * tells
    )


# --- comments and the narrative ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("comment", "condition", "severity", "expected"),
    [
        ("Hole flooded.", "intact", "flag", "the same in the column condition"),
        ("Hole flooded.", "", "flag", "the same in the column condition"),
        ("Hole flooded.", "water_inside", "note", "field note to be considered with the result"),
        ("Diesel spill.", "intact", "note", "field note to be considered with the result"),
    ],
)
def test_a_note_of_harm_is_against_a_sampler_that_is_said_to_be_whole(
    comment: str, condition: str, severity: str, expected: str
) -> None:
    row = {"sampler_id": "S-1", "location_id": "P-1", "comment": comment, "condition": condition}
    (found,) = comments.harm_in_comments(survey_of({"deployments": [row, {"sampler_id": "S-2", "comment": "Dry."}]}))
    assert (found.severity.value, found.expected, found.subject) == (severity, expected, "S-1")
    assert found.found.startswith(f"the field note “{comment}” includes “")
    assert found.do.startswith("set condition") is (severity == "flag")


def test_a_long_note_is_cut_after_120_letters() -> None:
    for letters, cut in ((120, False), (121, True)):
        comment = "flooded " + "x" * (letters - 8)
        row = {"sampler_id": "S-1", "location_id": "P-1", "comment": comment}
        (found,) = comments.harm_in_comments(survey_of({"deployments": [row]}))
        assert (f"“{comment[:117]}…”" in found.found) is cut
        assert (f"“{comment}”" in found.found) is not cut


def narrated(words: str) -> Survey:
    """Return a survey of the point SG-1 with words on its setting."""
    told_of = content("text/setting.md", words.encode())
    return load(changed(told_of, folder=folder({"locations": [{"location_id": "SG-1", "medium": "soil_gas"}]})))


def test_what_the_narrative_types_and_leaves_is_told_at_its_line() -> None:
    """A number with a unit that goes over a line's end is at the line where it begins; code and tokens hold none."""
    survey = narrated(
        "At SG-1 and SG-2.\nThe pit is 12\nm deep, `3 m` in code, {{ plan.depth }} in words.\n\nTBD, and TBD.\n"
    )
    assert told(narrative.typed_numbers(survey)) == ["text setting+12 m (2 None): '12 m'"]
    assert told(narrative.template_text(survey)) == ["text setting+tbd (5 None): 'TBD'"]
    (found,) = narrative.points_exist(survey)
    assert (found.found, found.where.row, found.do) == ("'SG-2'", 1, "write SG-1, or another point")


def test_words_at_the_beginning_of_a_line_are_told_at_that_line() -> None:
    survey = narrated("One line.\n12 m deep.\n\n3 m wide.\n")
    assert [(f.found, f.where.row) for f in narrative.typed_numbers(survey)] == [("'12 m'", 2), ("'3 m'", 4)]


def test_a_section_that_every_report_needs_is_written() -> None:
    survey = load(
        changed(content("text/summary.md", b" \n"), content("text/limitations.md", b"Few."), folder=folder({}))
    )
    assert told(narrative.sections(survey)) == [
        "text summary (None None): an empty section",
        "text conclusions (None None): no such section",
    ]


def test_a_token_is_known_and_closed() -> None:
    survey = narrated("{{ no.such.token }} and {{ open\n")
    assert [(f.code, f.where.row, f.found) for f in narrative.tokens_known(survey)] == [
        ("token-unknown", 1, "'{{ no.such.token }}'"),
        ("token-unknown", 1, "'{{ no.such.token }} and {{ open'"),
    ]


def test_words_left_in_the_settings_are_told_at_their_key() -> None:
    survey = load(changed(text("project.toml", 'title = "Journey"', 'title = "TODO"'), folder=folder({})))
    found = [f for f in narrative.template_text(survey) if f.code == "settings-template-text"]
    assert [(f.subject, f.where.row, f.found) for f in found] == [("project.title", 4, "'TODO'")]
