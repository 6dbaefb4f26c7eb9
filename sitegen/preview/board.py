"""What is on show now, and who waits for the next: handed from the thread that makes to those that serve."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from threading import Condition

from sitegen.findings.problems import Finding, Severity
from sitegen.preview.pages import Pages


@dataclass(frozen=True, slots=True)
class Shown:
    """What is on show: the last good pages, the findings of the last reading, and whether more is being made.

    ``trouble`` says in a sentence why the last reading gave no pages, where no finding says it. ``number``
    rises with each change.
    """

    pages: Pages | None = None
    findings: tuple[Finding, ...] = ()
    trouble: str = ""
    working: bool = True
    number: int = 0

    @property
    def stopped(self) -> bool:
        """Whether the last reading gave no pages, so that those there are those of an earlier one."""
        return bool(self.trouble) or has_stop(self.findings)

    @property
    def counts(self) -> str:
        """The findings counted by severity, worst first.

        >>> Shown().counts
        '0 stop, 0 hold, 0 flag, 0 note'
        """
        kinds = [finding.severity for finding in self.findings]
        return ", ".join(f"{kinds.count(severity)} {severity.value}" for severity in Severity)


def has_stop(findings: Iterable[Finding]) -> bool:
    """Tell whether a finding stops the build."""
    return any(finding.severity is Severity.STOP for finding in findings)


class Board:
    """Holds what is on show, and lets others wait until it is something else.

    >>> board = Board()
    >>> board.show(Shown(working=False)).number
    1
    >>> board.newer(0, patience_s=0).working
    False
    >>> board.newer(1, patience_s=0) is None
    True
    """

    def __init__(self) -> None:
        self._changed = Condition()
        self._shown = Shown()

    @property
    def shown(self) -> Shown:
        """What is on show now."""
        return self._shown

    def show(self, shown: Shown) -> Shown:
        """Put something else on show under the next number, tell all who wait, and return it."""
        with self._changed:
            self._shown = replace(shown, number=self._shown.number + 1)
            self._changed.notify_all()
            return self._shown

    def newer(self, number: int, patience_s: float) -> Shown | None:
        """Return what is on show once that is not ``number``; None where it stays that for so long."""
        with self._changed:
            other = self._changed.wait_for(lambda: self._shown.number != number, patience_s)
            return self._shown if other else None
