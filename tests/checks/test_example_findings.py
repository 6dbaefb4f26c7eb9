"""The example's findings of every severity, held as one text that a person has read.

    PYTHONPATH=.:tests python tests/checks/test_example_findings.py

writes the text anew. Nothing proves it but the person who reads the difference: each finding that came,
went or changed must be so by the record of ``example_project/``, and its README tells the story.
"""

from __future__ import annotations

from difflib import unified_diff

from builders import EXAMPLE_FINDINGS, example_findings, findings_on_paper

from sitegen.findings.problems import Finding

HEAD = """\
# What the checks find in the example: severity and key, place, what was found, what was expected.
# Written by test_example_findings.py; a person reads each difference against the record.
"""
RENEW = """
The example's findings are not those that a person has read:

{difference}

Ask of each line whether the record of example_project/ makes it so. If every one is right, write the text anew
with `PYTHONPATH=.:tests python tests/checks/test_example_findings.py`, and read the difference that git shows.
If one is wrong, the rule is."""


def as_text(finding: Finding) -> str:
    """Return a finding as the text has it."""
    parts = (str(finding.where), f"found: {finding.found}", f"expected: {finding.expected}")
    return "\n    ".join((f"{finding.severity.value} {finding.key}", *parts))


def whole_text() -> str:
    """Return the example's findings as one text, worst first, then by key."""
    ordered = sorted(example_findings(), key=lambda finding: (finding.severity.rank, finding.key))
    return "\n".join((HEAD, *map(as_text, ordered), ""))


def test_the_example_has_the_findings_that_a_person_has_read() -> None:
    """Code, key, severity, place, what was found and what was expected, of all severities."""
    before, now = EXAMPLE_FINDINGS.read_text("utf-8"), whole_text()
    lines = unified_diff(before.splitlines(), now.splitlines(), "read by a person", "said now", lineterm="", n=1)
    assert before == now, RENEW.format(difference="\n".join(lines))


def test_the_text_gives_the_findings_that_defects_are_compared_with() -> None:
    """Severity and key of each, and nothing else of the text."""
    pairs = [(finding.severity.value, finding.key) for finding in example_findings()]
    assert len(set(pairs)) == len(pairs)
    assert findings_on_paper() == set(pairs)


if __name__ == "__main__":
    EXAMPLE_FINDINGS.write_text(whole_text(), "utf-8")
