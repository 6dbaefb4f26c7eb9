"""What was read while a block was made is carried by it, and told to whoever asked for it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from builders import row_of

from sitegen.project.reads import note, reading
from sitegen.project.tables import Sampler
from sitegen.report.record.pages import Page, Prose, Ref, Table
from sitegen.report.write.traced import each_traced, traced


def table(name: str, *reads: str) -> Table:
    return Table(name, "", (), (), reads=frozenset(reads))


def pages() -> Iterator[Page]:
    """Yield a page after one file was read, one after another, and one that names its own."""
    for name, reads in (("one", ()), ("two", ()), ("three", ("own",))):
        note(frozenset({f"read for {name}"}))
        yield Page(Ref("page", name), name, "", (), reads=frozenset(reads))


@pytest.mark.parametrize(("apart", "second"), [(False, {"read for one", "read for two"}), (True, {"read for two"})])
def test_pages_carry_what_was_read_until_they_were_made_or_apart_what_was_read_for_each(
    *, apart: bool, second: set[str]
) -> None:
    """Made one after the other they may rest on what was read before; a page that names its reads keeps them."""
    reads = [page.reads for page in each_traced(pages(), apart=apart)]
    assert reads == [{"read for one"}, second, {"own"}]


def test_unless_they_are_said_to_be_apart_pages_are_not() -> None:
    assert [page.reads for page in each_traced(pages())][1] == {"read for one", "read for two"}


def test_every_block_that_a_function_returns_carries_what_it_read_and_what_it_was_handed() -> None:
    """A row stands for its table; a block that has its reads keeps them, and the caller is told of all."""

    @traced
    def made(_: Sampler) -> tuple[Table, Prose, list[Table]]:
        note(frozenset({"read inside"}))
        return table("bare"), Prose("words"), [table("own", "its own")]

    with reading() as told:
        bare, words, (own,) = made(row_of(Sampler))
    assert bare.reads == {"samplers", "read inside"}
    assert words == Prose("words")
    assert own.reads == {"its own"}
    assert told == {"samplers", "read inside", "its own"}
