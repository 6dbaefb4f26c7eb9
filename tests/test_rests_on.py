"""A printed number changes with no table but those that it says it rests on: seen by changing each in turn."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from perturbed import WAYS, perturbed

from sitegen.checking import check
from sitegen.compute.evaluate import evaluate
from sitegen.project.survey import Survey
from sitegen.project.tables import TABLE
from sitegen.report.assemble import assemble, draft
from sitegen.report.record.pages import PrintedValue

EXAMPLE = Path(__file__).resolve().parents[1] / "example_project"
WITHOUT_ROWS = ("locations", "analytes")
"""Tables whose keys other rows name: fewer of their rows is no survey that a report is made of."""


@cache
def survey() -> Survey:
    found = check(EXAMPLE).survey
    assert found is not None
    return found


def values_of(changed: Survey) -> dict[object, PrintedValue]:
    """Return the numbers that a survey's report prints, findings left out.

    A number of one row is known by its place and that row, for lists change their order; any other by its name.
    """
    values = assemble(draft(changed, evaluate(changed), ())).values
    return {(v.page, v.id, v.column, v.origin) if v.origin else v.name: v for v in values}


@cache
def as_it_is() -> dict[object, PrintedValue]:
    return values_of(survey())


def rests_on(value: PrintedValue) -> set[str]:
    """Return the files that a printed number says it was computed from, or the one of its row."""
    return {value.origin[0]} if value.origin else {source.file for source in value.sources}


def unannounced(name: str, way: str) -> Iterator[tuple[PrintedValue, str]]:
    """Yield the numbers that changed with a table that they do not name, and what they became.

    What stands in one row may no longer be printed, and a page may be gone: that is not what a number says.
    """
    files = {str(file) for file in survey().tables[name].frame["_file"]}
    after = values_of(perturbed(survey(), name, way))
    pages = {value.page for value in after.values()}
    for key, value in as_it_is().items():
        now = after.get(key)
        if value.page not in pages or (now is None and value.origin) or (now is not None and now.text == value.text):
            continue
        if not rests_on(value) & files:
            yield value, now.text if now else "no longer there"


@pytest.mark.long
@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", TABLE)
def test_no_number_changes_with_a_table_that_it_does_not_name(name: str, way: str) -> None:
    """Each table says something else in three ways; what changed on the pages and in print names its file."""
    if way == "fewer" and name in WITHOUT_ROWS:
        pytest.skip("other rows name its keys")
    assert not list(unannounced(name, way))


@pytest.mark.parametrize(("name", "way"), [("results", "numbers"), ("weather", "numbers"), ("custody", "fewer")])
def test_numbers_change_with_the_tables_that_they_name(name: str, way: str) -> None:
    """The other way round: something does change, so that the test above looks at something."""
    after = values_of(perturbed(survey(), name, way))
    assert any(after[key].text != value.text for key, value in as_it_is().items() if key in after)
    assert not list(unannounced(name, way))
