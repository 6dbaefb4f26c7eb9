"""A drafted mapping is read as results only after a person has compared it."""

from __future__ import annotations

import pytest
from small_delivery import deliver, results, simple, table

from sitegen.findings.problems import Severity

CONTENT = table(["L-1", "pce", "5", "ng"], ["L-2", "pce", "many", "ng"])
GOOD = table(["L-1", "pce", "5", "ng"])


def test_a_draft_that_nobody_confirmed_gives_no_results() -> None:
    """It stops, and what else is wrong is told in the same round."""
    delivery, findings = deliver(CONTENT, simple(rest='[confirmed]\nmapping = ""\ncontrol = ""\n'))
    assert {(f.code, f.severity) for f in findings} == {
        ("mapping-unconfirmed", Severity.STOP),
        ("number-unreadable", Severity.STOP),
    }
    (told,) = [f for f in findings if f.code == "mapping-unconfirmed"]
    assert told.where.row == simple(rest="[confirmed]").splitlines().index("[confirmed]") + 1
    assert results(delivery) == []


def test_a_mapping_written_by_hand_needs_no_confirmation() -> None:
    """Old mappings mean what they meant, their totals included."""
    delivery, findings = deliver(GOOD, simple(rest="[control]\nrows = 1\n"))
    assert (findings, len(results(delivery))) == ([], 1)


@pytest.mark.parametrize(
    ("control", "confirmed", "codes"),
    [
        ("rows = 1", "", ["control-unconfirmed"]),
        ("rows = 1", "LR-1", []),
        ("", "", []),
    ],
)
def test_totals_that_were_counted_hold_until_a_person_compared_them(
    control: str, confirmed: str, codes: list[str]
) -> None:
    """Without totals there is nothing to compare."""
    rest = f'[control]\n{control}\n[confirmed]\nmapping = "LR-1"\ncontrol = "{confirmed}"\n'
    delivery, findings = deliver(GOOD, simple(rest=rest))
    assert [f.code for f in findings] == codes
    assert [f.severity for f in findings] == [Severity.HOLD] * len(codes)
    assert len(results(delivery)) == 1


@pytest.mark.parametrize(
    ("confirmed", "how"),
    [("", "counted when the mapping was drafted"), ("LR-1", "entered under [control]")],
)
def test_totals_that_differ_are_told_by_who_stands_for_them(confirmed: str, how: str) -> None:
    """Nothing says that a person typed what the program counted."""
    rest = f'[control]\nrows = 2\n[confirmed]\nmapping = "LR-1"\ncontrol = "{confirmed}"\n'
    _, findings = deliver(GOOD, simple(rest=rest))
    (told,) = [f for f in findings if f.code == "control-total-differs"]
    assert told.expected == f"2, as {how}"
