"""Invented laboratories, each with a layout of its own, and what their files say by construction.

    laboratory = LABORATORIES["long"]()
    laboratory.content, laboratory.truth, laboratory.fields

All of them report the same twelve samplers and six compounds in their own way.
"""

from __future__ import annotations

from collections.abc import Callable

from laboratories_across import compounds_across, labelled_rows, merged, suffixed
from laboratories_long import (
    continued,
    joined,
    long,
    mixed,
    numbers_as_ids,
    pages,
    semicolons,
    two_sheets,
    unclear,
    units_in_header,
)
from laboratory import Laboratory

LABORATORIES: dict[str, Callable[[], Laboratory]] = {
    made.__name__: made
    for made in (
        long, units_in_header, semicolons, merged, compounds_across, suffixed, mixed, two_sheets, pages, numbers_as_ids,
        joined, labelled_rows, unclear, continued,
    )
}  # fmt: skip
