"""Our own words in the spelling that a project asks for; what people wrote into the folder stays as it is."""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Iterator
from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path

import byhand_survey
import hunspell
import pytest
from builders import write
from pypdf import PdfReader
from spelling_texts import ROOMS, ROOT, SCRIPTS, TEMPLATES, literals, quoted, texts, words_of

from sitegen.checking import check_snapshot
from sitegen.checks.catalogue import catalogue
from sitegen.fieldwork.kit.typeset import _templates
from sitegen.pipeline import Built, build, compose
from sitegen.project.folder import Folder
from sitegen.project.voices import voice_of
from sitegen.report.record.pages import Report
from sitegen.report.write.words import lexicon, say
from sitegen.voice import Voice, american_words, script_worded, speaking, spelt, voice

US, UK = Voice("us"), Voice("uk")
TRADE = frozenset((Path(__file__).parent / "spelling_words.txt").read_text("utf-8").splitlines()[1:])
BRITISH_TOO = frozenset(
    {"among", "burned", "curb", "draft", "drafts", "learned", "license", "meter", "meters", "mold", "practice"}
    | {"practiced", "program", "programs", "smelled", "spelled", "spilled", "stories", "story", "tire", "tires"}
    | {"toward", "while"}
)
"""American spellings that are British words as well: a program of a computer, a draft of a report."""
AMERICAN = frozenset(american_words().values()) - BRITISH_TOO
WHERE_TOLD = {
    "report/data/exports.py": "_GROUPS",
    "report/rounds/exports.py": "_STAGE_MEANINGS",
    "compute/limits.py": "DEFAULTS",
}
"""Modules with texts for which :func:`spelt` is asked where they are told."""
MINE = {
    'site = "Hand Yard (invented)"': 'site = "Colour Centre (invented)"',
    "Which Benzene is left after the blanks?": "Odour of vapour near the neighbour's catalogue",
}
"""What the survey says in place of its own words: a name and a remark that are British whatever the report is."""


def survey(spelling: str = "") -> Folder:
    """Return the survey worked by hand, which is in feet, with British words of its own."""
    stated = f'spelling = "{spelling}"' if spelling else ""
    files = {path: text.replace('spelling = "uk"', stated) for path, text in byhand_survey.FILES.items()}
    for theirs, ours in MINE.items():
        assert any(theirs in text for text in files.values())
        files = {path: text.replace(theirs, ours) for path, text in files.items()}
    return byhand_survey.folder(files)


@cache
def report(spelling: str) -> Report:
    """Return the report of that survey."""
    return compose(check_snapshot(survey(spelling)))[1]


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Return its build where the settings state no spelling."""
    root = tmp_path_factory.mktemp("spelling")
    return build(write(survey(), root / "survey"), root / "out")


def told(site: Path) -> Iterator[tuple[str, str]]:
    """Yield the texts that the files of a site show a reader, without names of columns, keys and addresses."""
    for path in sorted(site.rglob("*")):
        if path.suffix == ".html":
            text = re.sub(r"<(script|style)\b.*?</\1>", " ", path.read_text("utf-8"), flags=re.DOTALL)
            yield (
                path.name,
                html.unescape(" ".join(re.findall(r'(?:alt|title|aria-label|placeholder)="([^"]*)"', text))),
            )
            yield path.name, html.unescape(re.sub(r"<[^>]*>", " | ", text))
        elif path.suffix == ".js" and path.parent.name in ("map", "ui") and path.name != "leaflet.js":  # another's
            yield from ((path.name, text) for text in quoted(path.read_text("utf-8")))
        elif path.suffix == ".pdf":
            yield path.name, " ".join(page.extract_text() for page in PdfReader(path).pages)


def found_in(site: Path, words: Iterable[str], known: Iterable[str]) -> set[tuple[str, str, str]]:
    """Return (file, word, what stands around it) for each of the words that a site tells, what is known aside."""
    pattern, wanted = re.compile(r"(?<![\w.\-/])(?<!\w,)[A-Za-z]+(?![\w\-])"), frozenset(words)
    found = set()
    for name, text in told(site):
        for one in known:
            text = text.replace(one, "")  # noqa: PLW2901 - what is left of it
        for m in pattern.finditer(text):
            if m[0].lower() in wanted:
                found.add((name, m[0], text[max(0, m.start() - 30) : m.end() + 20]))
    return found


def test_a_survey_in_feet_is_told_in_us_spelling(plain: Built) -> None:
    """Pages, scripts and print have no British spelling but in what the folder itself says, which is all there."""
    site = plain.out / "site"
    codes = ("analysed: ", "withhold-misspelt")
    assert found_in(site, american_words(), (*_mine(), *codes)) == set()
    shown = " ".join(text for _, text in told(site))
    assert "Colour Centre" in shown
    assert "Odour of vapour near the neighbour's catalogue" in shown
    assert "Analyzed" in shown
    assert "vapor" in shown


def _mine() -> tuple[str, ...]:
    return ("Colour Centre", "Odour of vapour near the neighbour's catalogue")


def test_the_example_asks_for_british_spelling_and_has_no_other(built: Built) -> None:
    """Its plan is in feet; what it states comes first."""
    assert found_in(built.out / "site", AMERICAN, ()) == set()
    assert found_in(built.out / "site", ("analysed",), ()) != set()


def test_reports_of_both_spellings_differ_in_the_listed_words_alone() -> None:
    """Text by text, word by word: the same, or the one word for the other; digests aside."""
    us, uk = list(_strings(report("us"))), list(_strings(report("uk")))
    assert len(us) == len(uk)
    changed = set()
    for one, other in zip(us, uk, strict=True):
        mine, theirs = _words(one), _words(other)
        assert len(mine) == len(theirs), (one, other)
        for a, b in zip(mine, theirs, strict=True):
            if a != b:
                assert american_words().get(b.lower()) == a.lower(), (a, b, one)
                changed.add(b.lower())
    assert changed >= {"analysed", "vapour", "neighbours", "metres", "colours", "labelling"}


def _strings(value: object) -> Iterator[str]:
    """Yield every text of a record, keys left out."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key in value:
            yield from _strings(value[key])
    elif isinstance(value, (list, tuple)):
        for one in value:
            yield from _strings(one)
    elif is_dataclass(value):
        for field in fields(value):
            yield from _strings(getattr(value, field.name))


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W\d_]+", re.sub(r"\b[0-9a-f]{8,}\b", "", text))


@pytest.mark.parametrize(
    ("settings", "expected"),
    [
        ("", UK),
        ("[plan]\ndepth = { value = 3.0, unit = 'ft' }", US),
        ("[plan]\ndepth = { value = 1.0, unit = 'm' }\nspacing = { value = 30, unit = 'ft' }", US),
        ("[plan]\ndepth = { value = 1.0, unit = 'm' }", UK),
        ("[space]\nfoot = 'us_survey'", US),
        ("[space]\nfoot = 'international'\n[publish]\nspelling = 'uk'", UK),
        ("[publish]\nspelling = 'us'", US),
        ("[publish]\nspelling = 'oxford'\n[space]\nfoot = 'international'", US),
        ("publish = 3\nplan = 'x'\nspace = []", UK),
        ("[plan]\nlocations = ?\n[publish]\nspelling = 'us'", US),
    ],
)
def test_the_spelling_follows_the_settings(settings: str, expected: Voice) -> None:
    """What is stated, else US where the project is in feet; faults elsewhere in the file are no matter."""
    assert voice_of(byhand_survey.folder({"project.toml": settings})) == expected


def test_a_spelling_that_is_none_stops_the_build() -> None:
    """It is a setting like any other."""
    (found,) = (one for one in check_snapshot(survey("oxford")).findings if "spelling" in one.subject)
    assert found.severity.value == "stop"


def test_what_is_kept_is_kept_for_each_voice() -> None:
    """Word lists, sentences and checks asked for in turn come in the voice of each."""
    for _ in range(2):
        for now, analysed, colour in ((US, "analyzed", "color"), (UK, "analysed", "colour")):
            with speaking(now):
                assert lexicon("glossary")["method blank"] == f"A clean sample {analysed} with a batch."
                assert say("takeaway.not_analysed") == f"not {analysed}"
                assert catalogue()["analysed-before-received"].rule.startswith(f"A sample is {analysed}")
                assert f"by size and {colour}" in script_worded((TEMPLATES / "map/panel.js").read_text("utf-8"))
    assert voice() == UK


def test_a_findings_words_follow_the_project() -> None:
    """What a check says and asks for is in the project's spelling; codes, columns and places are not words."""
    with speaking(US):
        american = {code: (one.rule, one.do) for code, one in catalogue().items()}
    for code, one in catalogue().items():
        assert american[code] == tuple(_american(text) for text in (one.rule, one.do)), code
    assert any("analyzed" in do for _, do in american.values())


def _american(text: str) -> str:
    with speaking(US):
        return spelt(text)


def test_scripts_and_forms_change_in_what_they_say_alone() -> None:
    """Each line of a script or form that is told otherwise, as it is told: no name of the code is among them."""
    lines = []
    with speaking(US):
        forms = {name: text.decode() for name, text in _templates(US).items()}
        for folder in SCRIPTS:
            for path in sorted((TEMPLATES / folder).rglob("*.js")):
                old = path.read_text("utf-8")
                new = script_worded(old)
                lines += [b.strip() for a, b in zip(old.splitlines(), new.splitlines(), strict=True) if a != b]
    for name, text in sorted(forms.items()):
        old = (TEMPLATES / "kit" / name).read_text("utf-8").splitlines()
        told_ = zip(old, text.splitlines(), strict=True)
        lines += [b.strip() for a, b in told_ if a != b and not a.lstrip().startswith("//")]
    changed = {word for line in lines for word in re.findall(r"[a-z]+", line.lower()) if word in AMERICAN | {"drafts"}}
    assert changed == {"analyzed", "color", "center", "initialed", "odor", "organization", "vapor", "drafts"}
    assert len(lines) == 12


@pytest.mark.skipif(not hunspell.installed(), reason="needs Debian's hunspell-en-us and hunspell-en-gb")
@pytest.mark.parametrize(("spelling", "known"), [("us", "walked"), ("uk", "vapours")])
def test_every_word_of_ours_is_in_the_dictionary(spelling: str, known: str) -> None:
    """Of each spelling its own dictionary, or the list of words of the trade."""
    dictionary = hunspell.words(spelling)
    assert known in dictionary
    unknown, allowed = set(), dictionary | TRADE
    with speaking(Voice(spelling)):
        for name, text in texts():
            unknown |= {(name, word) for word in map(spelt, words_of(text)) if word not in allowed}
    assert unknown == set()


@pytest.mark.skipif(not hunspell.installed(), reason="needs Debian's hunspell-en-us and hunspell-en-gb")
def test_the_list_of_words_is_right_as_far_as_dictionaries_go() -> None:
    """Each word of our texts that only the British dictionary has is listed, or is one of the trade."""
    british, american = hunspell.words("uk"), hunspell.words("us")
    used = {word for _, text in texts() for word in words_of(text)}
    assert {word for word in used & (british - american) if word not in american_words()} - TRADE == set()
    assert {american_words()[word] for word in used & american_words().keys()} <= american
    assert not used & american_words().keys() & AMERICAN


def test_our_texts_are_written_in_british_spelling() -> None:
    """No text of the sources has a word that only the United States spell so."""
    found = {(name, word) for name, text in texts() for word in words_of(text) if word in AMERICAN}
    assert found == set()


@pytest.mark.parametrize("room", ROOMS)
def test_british_words_in_code_are_spelt_where_they_are_told(room: str) -> None:
    """A text of Python's with such a word goes through the one function, here or where it is shown."""
    left = set()
    for path in sorted((ROOT / room).rglob("*.py")):
        name = path.relative_to(ROOT).as_posix()
        for line, text, asked in literals(path):
            if not asked and _american(text) != text and name not in WHERE_TOLD and name not in NO_WORDS:
                left.add((name, line, text))
    assert left == set()


NO_WORDS = ("checks/catalogue.py", "checks/outside.py", "checks/narrative.py", "render/map/webmap.py")
"""Modules whose only such texts are a name of the code, a pattern of the user's words, or a fault of the program."""
