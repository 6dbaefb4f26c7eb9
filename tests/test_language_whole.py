"""A whole report in Spanish, read again: no text of ours in it is English, and its numbers are those in English."""

from __future__ import annotations

import csv
import json
import re
import tomllib
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from builders import changed, content, setting, write
from foreign import english_left, in_english
from pypdf import PdfReader
from spanish_survey import spanish_folder

from sitegen.compute.evidence.published import published_checks
from sitegen.compute.limits import DEFAULTS
from sitegen.compute.statistics.intervals import EPA_2009, HELSEL
from sitegen.pipeline import Built, build

pytestmark = pytest.mark.long
ROOT = Path(__file__).parent.parent / "sitegen"
LISTS = (ROOT / "data/checks.toml", ROOT / "templates/words/es/formulas.toml", ROOT / "templates/words/es/sources.toml")
DEPLOYMENTS = "field/deployments.csv"
SAID_AS_IT_IS = re.compile(r"Inverse of|\bwhere\b|WGS 84 / UTM|Material|^© ")
"""Names of transformations, a key of the settings, and the makers of what the site is made with."""


@pytest.fixture(scope="module")
def spanish(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Return the report of the Spanish survey."""
    place = tmp_path_factory.mktemp("spanish")
    return build(write(spanish_folder(), place / "survey"), place / "out")


def sources(value: Any) -> Iterator[str]:  # noqa: ANN401 - whatever TOML holds
    """Yield the titles of works that a list cites; they stay in the language of the work."""
    if isinstance(value, dict):
        yield from (text for key, text in value.items() if key == "source" and isinstance(text, str))
        for inner in value.values():
            yield from sources(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from sources(inner)


def quoted() -> list[str]:
    """Return what a report has from elsewhere: the survey's own texts, and the titles of works."""
    own = [file.content.decode("utf-8", "replace") for file in spanish_folder().files.values()]
    cited = [title for path in LISTS for title in sources(tomllib.loads(path.read_text("utf-8")))]
    limits = [part for limit in DEFAULTS for part in (limit.source, *limit.source.split("; "))]
    limits += [HELSEL, EPA_2009]
    return [*own, *cited, *limits, *(check.source for check in published_checks())]


def test_no_page_has_an_english_sentence(spanish: Built) -> None:
    """Every page, and what only a screen reader says."""
    site = spanish.out / "site"
    pages = {path.relative_to(site).as_posix(): path.read_text("utf-8") for path in sorted(site.rglob("*.html"))}
    assert len(pages) > 150
    left = [(name, text) for name, text in english_left(pages, quoted()) if not SAID_AS_IT_IS.search(text)]
    assert left == []
    assert all('<html lang="es"' in html for html in pages.values())


def test_no_page_of_print_has_an_english_line(spanish: Built) -> None:
    """Lines of the PDF with two English words or more, the titles of works aside."""
    reader = PdfReader(spanish.pdf)
    told = " ".join(" ".join(quoted()).split())
    left = []
    for number, page in enumerate(reader.pages, start=1):
        for line in page.extract_text().splitlines():
            words = re.findall(r"\b(?:the|of|and|is|are|was|were|with|not|from|which)\b", line)
            if len(words) > 1 and " ".join(line.split()) not in told and not SAID_AS_IT_IS.search(line):
                left.append((number, line))
    assert left == []
    assert reader.trailer["/Root"]["/Lang"] == "es"
    summary = next(text for page in reader.pages if "1.5 Asuntos pendientes\n• " in (text := page.extract_text()))
    assert "1.1 Qué se encontró\n" in summary


def test_what_is_exported_is_told_in_spanish_under_the_same_names(spanish: Built, built: Built) -> None:
    """Files, columns and codes are those of the English report; meanings are Spanish."""
    ours, theirs = (one.out / "site/downloads" for one in (built, spanish))
    names = [sorted(path.relative_to(place).as_posix() for path in place.rglob("*")) for place in (ours, theirs)]
    assert names[0] == names[1]
    package = json.loads((theirs / "datapackage.json").read_text("utf-8"))
    meanings = [field.get("description", "") for table in package["resources"] for field in table["schema"]["fields"]]
    assert len(meanings) > 200
    assert [text for text in meanings if in_english(_without_codes(text))] == []
    for path in sorted(ours.glob("*.csv")):
        heads = [next(csv.reader(StringIO((place / path.name).read_text("utf-8-sig")))) for place in (ours, theirs)]
        assert heads[0] == heads[1], path.name


def _without_codes(text: str) -> str:
    """Return a meaning without the values that it explains: a code, and what it means in brackets."""
    return re.sub(r"[a-z ]+(?= \()", "", text)


def test_results_are_the_same_in_both_languages(spanish: Built, built: Built) -> None:
    """Numbers, limits, units and qualifiers of all results, and the codes of all findings but those on words."""
    columns = ("sampler_id", "analyte_id", "detected", "value", "unit", "rl", "result_text", "qualifier", "reportable")
    rows = []
    for one in (built, spanish):
        text = (one.out / "site/downloads/results.csv").read_text("utf-8-sig")
        rows.append([[row[name] for name in columns] for row in csv.DictReader(StringIO(text))])
    assert rows[0] == rows[1]
    assert len(rows[0]) > 1000
    found = [sorted(one.code for one in each.findings if one.code != "comment-watch-word") for each in (built, spanish)]
    assert found[0] == found[1]


def test_the_report_says_that_a_translation_requires_a_reader_of_the_trade(spanish: Built, built: Built) -> None:
    """On the summary and in the methods, and in no English report."""
    said = "requieren la revisión de un profesional del sector"
    for page in ("index.html", "methods.html"):
        text = (spanish.out / "site" / page).read_text("utf-8")
        assert said in text or "requieren, antes de la emisión, la revisión de un profesional del sector" in text
        assert "translation" not in (built.out / "site" / page).read_text("utf-8")


def test_a_copy_for_the_client_has_no_english_sentence(tmp_path: Path) -> None:
    """What is withheld is computed anew: that too is said in Spanish."""
    deployments = spanish_folder().content(DEPLOYMENTS) or b""
    unnamed = deployments.replace(b"Varnhollow al 555-0142", b"la oficina")
    assert unnamed != deployments
    level = setting('level = "internal"', 'level = "client"')
    folder = changed(level, content(DEPLOYMENTS, unnamed), folder=spanish_folder())
    made = build(write(folder, tmp_path / "survey"), tmp_path / "out")
    site = made.out / "site"
    pages = {path.relative_to(site).as_posix(): path.read_text("utf-8") for path in sorted(site.rglob("*.html"))}
    left = [(name, text) for name, text in english_left(pages, quoted()) if not SAID_AS_IT_IS.search(text)]
    assert left == []
