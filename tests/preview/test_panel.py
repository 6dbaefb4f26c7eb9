"""The panel says what was found, in words that can do nothing, and leaves the page as it was."""

from __future__ import annotations

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.preview.board import Shown
from sitegen.preview.panel import MOST_EXAMPLES, MOST_GROUPS, groups, notice, panel, with_panel

EVIL = "<script>alert(1)</script>\"'&\x00"


def finding(code: str, row: int, severity: Severity = Severity.FLAG, text: str = "seen") -> Finding:
    return Finding(code, severity, f"S-{row}", Where("a.csv", row, text), text, text, text)


def test_findings_stand_by_code_with_where_and_what_to_do() -> None:
    """The first ones of each code are shown, the others counted, and notes are only counted."""
    found = (
        finding("seal-differs", 1, Severity.HOLD),
        *(finding("gap", row) for row in range(2, 8)),
        finding("told", 9, Severity.NOTE),
    )
    said = panel(Shown(findings=found, working=False), "index.html", "0")
    assert "0 stop, 1 hold, 6 flag, 1 note" in said
    assert said.count("<dt>") == 2
    assert said.count("a.csv, row") == 1 + MOST_EXAMPLES
    assert "3 more of this kind." in said
    assert "told" not in said
    assert [(group.code, group.size) for group in groups(found)] == [("seal-differs", 1), ("gap", 6)]


def test_of_very_many_kinds_the_first_are_shown() -> None:
    """The panel stays small, and says how much it leaves out."""
    found = tuple(finding(f"kind-{number:02}", 1) for number in range(MOST_GROUPS + 2))
    said = panel(Shown(findings=found, working=False), "index.html", "0")
    assert said.count("<dt>") == MOST_GROUPS
    assert "2 more kinds." in said


def test_words_of_the_record_are_words() -> None:
    """Neither a finding nor an address that somebody asks for becomes a part of the page."""
    shown = Shown(findings=(finding("gap", 1, Severity.STOP, EVIL),), trouble=EVIL, working=False)
    page = b"<main></main></body>"
    for said in (panel(shown, EVIL, "0"), notice(shown, EVIL).decode(), with_panel(page, shown, EVIL).decode()):
        assert "<script>" not in said
        assert "\x00" not in said
        assert "&lt;script&gt;" in said


def test_a_page_without_its_panel_is_as_it_was() -> None:
    """What looks like the page's own script in a text does not move the panel."""
    page = b"<main>&lt;/body></main></body>"
    made = with_panel(page, Shown(working=False), "index.html")
    own = panel(Shown(working=False), "index.html", made.partition(b'data-mark="')[2][:16].decode()).encode()
    assert made.replace(own, b"") == page
    assert made.startswith(b"<main>&lt;/body></main>")
