"""Messages about rounds and earlier surveys, each followed in a folder with one slip."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from builders import Change, Folder, cell
from defects import BAGS, DEPLOYMENTS, LAB, SETTINGS, SHIPMENTS
from remedies import Remedy
from rounds_survey import edited_by, two_rounds
from trials import Trial

from sitegen.findings.problems import Finding


def replaced(old: bytes, new: bytes) -> Callable[[bytes], bytes]:
    def edit(text: bytes) -> bytes:
        assert old in text
        return text.replace(old, new, 1)

    return edit


def in_settings(old: str, new: str) -> Change:
    return Change(SETTINGS, replaced(old.encode(), new.encode()))


def _trial(name: str, code: str, slip: Change, remedy: Change) -> Trial:
    return Trial(name, code, partial(edited_by, slip), _followed(remedy))


def _followed(change: Change) -> Remedy:
    def remedy(_: Folder, __: Finding) -> Iterator[Change]:
        yield change

    return remedy


SHIPPED = "2-SH-R1"
ROUNDS = (
    _trial(
        "round-twice", "round-unsound", in_settings('id = "R2"', 'id = "R1"'),
        Change(SETTINGS, lambda _: two_rounds().files[SETTINGS].content),
    ),
    _trial(
        "supplement-of-nothing", "round-unsound", in_settings('of = "R2"', 'of = "R9"'),
        in_settings('of = "R9"', 'of = "R2"'),
    ),
    _trial(
        "round-of-a-round", "round-unsound", in_settings("locations = 53", 'locations = 53\nof = "R1"'),
        in_settings('\nof = "R1"', ""),
    ),
    _trial(
        "reported-round-unknown", "round-unsound", in_settings("revision = 1\n", 'revision = 1\nround = "R9"\n'),
        in_settings('round = "R9"\n', ""),
    ),
    _trial(
        "round-unknown", "round-unknown", cell(DEPLOYMENTS, "0047103", "round", "R9"),
        cell(DEPLOYMENTS, "0047103", "round", "R1"),
    ),
    _trial(
        "round-blank", "round-blank", cell(DEPLOYMENTS, "0047103", "round", ""),
        cell(DEPLOYMENTS, "0047103", "round", "R1"),
    ),
    _trial(
        "bag-of-two-rounds", "rounds-disagree", cell(DEPLOYMENTS, "2-0047102", "round", "R1"),
        cell(DEPLOYMENTS, "2-0047102", "round", "R2"),
    ),
    _trial(
        "bag-of-another-round", "rounds-disagree", cell(BAGS, "2-RB-1", "round", "R1"),
        cell(BAGS, "2-RB-1", "round", "R2"),
    ),
    _trial(
        "shipment-of-another-round", "rounds-disagree", cell(SHIPMENTS, SHIPPED, "round", "R1"),
        cell(SHIPMENTS, SHIPPED, "round", "R2"),
    ),
    _trial(
        "sample-of-another-round", "rounds-disagree", cell(LAB, "2-04417-001", "round", "R1"),
        cell(LAB, "2-04417-001", "round", "R2"),
    ),
)  # fmt: skip
