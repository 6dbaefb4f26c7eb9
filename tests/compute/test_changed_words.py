"""Words that changed in a long text."""

from __future__ import annotations

from sitegen.compute.text.changed_words import word_changes


def test_a_word_that_stands_often_is_no_noise() -> None:
    """Of 250 like words none was taken out, however long the text: one was put in before them, and nothing else."""
    assert word_changes("deep " * 250, "water " + "deep " * 250) == (
        ("added", "water"),
        ("same", "deep deep deep deep deep … deep deep deep deep deep"),
    )


def test_up_to_ten_unchanged_words_stand_in_full() -> None:
    """Five on either side of a gap are no fewer words than all ten."""
    ten = "a b c d e f g h i j"
    assert word_changes(ten, f"{ten} k") == (("same", ten), ("added", "k"))
    assert word_changes(f"{ten} k", ten) == (("same", ten), ("removed", "k"))
    assert word_changes(f"{ten} k", f"{ten} k l")[0] == ("same", "a b c d e … g h i j k")
