"""Names of files and links made from ids of any kind."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.findings.problems import OutputFault
from sitegen.render.site.paths import checked_file, page_url, relative, safe_name
from sitegen.report.record.pages import Ref


@pytest.mark.parametrize(
    ("ref", "url"),
    [
        (Ref("page", "start"), "index.html"),
        (Ref("page", "quality"), "quality.html"),
        (Ref("page", "quality", "blanks"), "quality.html#blanks"),
        (Ref("location", "SG-01"), "locations/SG-01.html"),
        (Ref("compound", "pce", "map"), "compounds/pce.html#map"),
        (Ref("sampler", "0007"), "samplers/0007.html"),
        (Ref("bag", "BAG-1"), "bags/BAG-1.html"),
        (Ref("shipment", "R1"), "shipments/R1.html"),
        (Ref("check", "custody-gap"), "checks.html#custody-gap"),
        (Ref("term", "blank"), "glossary.html#blank"),
        (Ref("file", "photos/a b.png"), "photos/a%20b.png"),
        (Ref("map", "SG-01"), "map.html#SG-01"),
        (Ref("map", ""), "map.html"),
    ],
)
def test_every_kind_of_ref_has_its_url(ref: Ref, url: str) -> None:
    assert page_url(ref) == url


def test_findings_lead_to_an_anchor_that_is_safe_and_steady() -> None:
    url = page_url(Ref("finding", "custody-gap:S-0007+S-0008"))
    assert re.fullmatch(r"findings\.html#custody-gap-S-0007-S-0008-[0-9a-f]{8}", url)


def test_unknown_kind_is_refused() -> None:
    with pytest.raises(OutputFault, match="unknown kind 'planet'"):
        page_url(Ref("planet", "Mars"))


@given(st.text(max_size=300))
def test_any_id_gives_a_plain_name(text: str) -> None:
    name = safe_name(text)
    assert re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}", name)
    assert not name.endswith(".")
    assert name.split(".")[0].lower() not in {"con", "prn", "aux", "nul", "com1", "lpt9"}


@given(st.sets(st.text(max_size=12), min_size=2, max_size=20))
def test_different_ids_never_share_a_name(texts: set[str]) -> None:
    assert len({safe_name(text) for text in texts}) == len(texts)


@pytest.mark.parametrize("text", ["../../etc", "a/b", "a\\b", "CON", "nul.txt", "x" * 200, "Ä", "", ".", "a.", "wäß"])
def test_ids_that_can_not_be_file_names_are_changed_and_hashed(text: str) -> None:
    assert re.search(r"-[0-9a-f]{8}$", safe_name(text))


def test_a_page_called_index_does_not_take_the_start_page() -> None:
    assert page_url(Ref("page", "index")) == "index-page.html"


def test_relative_links_go_up_from_folders_and_stay_on_the_page() -> None:
    assert relative("index.html", "locations/a.html") == "locations/a.html"
    assert relative("locations/a.html", "locations/b.html#x") == "../locations/b.html#x"
    assert relative("locations/a.html", "locations/a.html#x") == "#x"


@pytest.mark.parametrize(
    "path",
    ["../a", "/a", "a/../b", "C:/a", "a\\b", "", "a//b", "./a", "con.png", "a/b. ", "a\x00", 'a"b', "a?b"],
)
def test_extra_files_stay_below_the_output_folder(path: str) -> None:
    with pytest.raises(OutputFault, match="can't be written"):
        checked_file(path)
