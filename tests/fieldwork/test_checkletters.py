"""Check characters: the standard's own example, and every slip that it promises to notice."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.fieldwork.kit.checkletters import check_letters, folded, qr_text, read_qr_text

SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
IDS = ("SG-07", "0047102", "SG-31-D", "TB-1", "SPARE-2", "A", "ZZZZZZZZZZ")
words = st.text(alphabet=SIGNS, min_size=1, max_size=16)


def rest(text: str) -> int:
    """Return a number of base 36 modulo 1271, with Python's own reading of it."""
    return int(text, 36) % 1271


def test_the_example_of_the_standard() -> None:
    """ISO/IEC 7064 gives the string ISO79 the check characters 3W (MOD 1271-36; from memory of the standard)."""
    assert check_letters("ISO79") == "3W"


@given(words)
def test_an_id_and_its_check_characters_leave_one(text: str) -> None:
    """The definition: the whole as a number of base 36 leaves 1 on division by 1271."""
    assert rest(text + check_letters(text)) == 1


@pytest.mark.parametrize("identity", IDS)
def test_every_sign_mistyped_is_noticed(identity: str) -> None:
    """Each sign of the folded text, the check characters included, replaced by each other one."""
    right = folded(identity) + check_letters(identity)
    for at, sign in itertools.product(range(len(right)), SIGNS):
        wrong = right[:at] + sign + right[at + 1 :]
        assert (check_letters(wrong[:-2]) == wrong[-2:]) == (wrong == right), wrong


@pytest.mark.parametrize("identity", IDS)
def test_every_exchange_of_neighbours_is_noticed(identity: str) -> None:
    """Each two neighbours of the folded text, the check characters included, exchanged."""
    right = folded(identity) + check_letters(identity)
    for at in range(len(right) - 1):
        wrong = right[:at] + right[at + 1] + right[at] + right[at + 2 :]
        assert (check_letters(wrong[:-2]) == wrong[-2:]) == (wrong == right), wrong


@given(words, st.data())
def test_any_single_slip_in_any_id_is_noticed(text: str, data: st.DataObject) -> None:
    """A sign of any id replaced by another, or exchanged with its neighbour."""
    at = data.draw(st.integers(0, len(text) - 1))
    other = text[:at] + data.draw(st.sampled_from(SIGNS)) + text[at + 1 :]
    exchanged = text[: at - 1] + text[at] + text[at - 1] + text[at + 1 :] if at else text
    for wrong in {other, exchanged} - {text}:
        assert check_letters(wrong) != check_letters(text)


def test_other_signs_stay_in_the_text_and_are_not_checked() -> None:
    """Hyphens, blanks and letters with marks are left out of the check alone; small letters count as capitals."""
    assert folded("sg-07 é") == "SG07"
    assert qr_text("sg-07 é") == "sg-07 é*" + check_letters("SG07")
    assert read_qr_text(qr_text("sg-07 é")) == "sg-07 é"


@given(st.text(max_size=20))
def test_what_is_written_is_read_and_nothing_else(identity: str) -> None:
    """Any id that has a sign to check is read back; with nothing to check it is not taken for one."""
    assert read_qr_text(qr_text(identity)) == (identity if folded(identity) else None)


@pytest.mark.parametrize("text", ["", "*", "*01", "SG-07", "SG-07*", "SG-07*3w", "SG-07*3W0"])
def test_other_texts_are_not_taken_for_an_id(text: str) -> None:
    """A text without a star, without an id, or with other check characters is refused."""
    assert read_qr_text(text) is None
