"""Photographs of a point: those that the folder has, each once on its page and among the files of print."""

from __future__ import annotations

from dataclasses import replace

import byhand_survey as survey
from sample_report import PNG

from sitegen.checking import check_snapshot
from sitegen.pipeline import compose, prepare
from sitegen.project.folder import Folder, InputFile
from sitegen.report.record.pages import Page, Photo, Section

ROWS = """\
file,location_id,taken_at,direction,caption,alt_text,publish
photos/one.png,SG-1,2025-10-01T10:00,NW,The pad,A grey pad,yes
photos/gone.png,SG-1,2025-10-01T10:05,down,The hole,A dark hole,yes
photos/two.png,SG-2,2025-10-01T11:00,,The kerb,,yes
photos/three.png,SG-3,2025-10-01T12:00,,,,yes
"""


THERE = ("photos/one.png", "photos/two.png", "photos/three.png")


def folder() -> Folder:
    """Return the survey worked by hand with four photographs listed, of which three are there."""
    plain = survey.folder(survey.FILES | {"field/photos.csv": ROWS})
    pictures = {name: InputFile(name, "0" * 64, PNG) for name in THERE}
    return replace(plain, files=dict(sorted((plain.files | pictures).items())))


def photos_of(page: Page) -> list[Photo]:
    """Return the photographs of a page."""
    return [item for b in page.blocks if isinstance(b, Section) for item in b.blocks if isinstance(item, Photo)]


def test_a_photograph_that_is_listed_and_not_there_is_neither_shown_nor_printed() -> None:
    """The page of its point shows the others; for words that are missing stand the caption, and the point's name."""
    checked = check_snapshot(folder())
    _, printed, _ = prepare(checked)
    assert [*printed.photos.values()] == [*THERE]
    report = compose(checked)[1]
    pages = {page.ref.id: photos_of(page) for page in report.pages if page.ref.kind == "location"}
    shown = {name: [(p.file, p.caption, p.alt) for p in photos] for name, photos in pages.items() if photos}
    assert shown == {
        "SG-1": [("photos/one.png", "The pad", "A grey pad")],
        "SG-2": [("photos/two.png", "The kerb", "The kerb")],
        "SG-3": [("photos/three.png", "SG-3", "Photograph at SG-3")],
    }
