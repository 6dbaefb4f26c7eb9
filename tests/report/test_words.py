"""Sentences are filled with facts as they are, or in Markdown escaped once; HTML is made elsewhere."""

from __future__ import annotations

import pytest
from jinja2 import UndefinedError

from sitegen.report.write.words import lexicon, markdown, say, word


def test_a_fact_in_a_plain_sentence_is_as_it_was_recorded() -> None:
    """Nothing of it is escaped: writers of HTML, print and files do that, each in its own way."""
    assert say("sources.sample_title", sample="A & <b>'\"_1*") == "Laboratory sample A & <b>'\"_1*"


def test_a_fact_in_markdown_is_escaped_once() -> None:
    """Its signs are no emphasis and no markup, and no sign becomes the name of one."""
    assert r"A \& \<b\>\_1\*" in markdown("sources.how", sheet="A & <b>_1*", results=True)


@pytest.mark.parametrize("sign", ["\u202e", "\u202d", "\u2066"])
def test_a_fact_turns_no_number_after_it_round(sign: str) -> None:
    """A sign that overrides the direction of writing is shown as one that can't be; other scripts are left alone."""
    assert say("front.where", id="12", name=f"{sign}b", relation="at", numbered=False) == "at the \ufffdb (12)"
    assert sign not in markdown("sources.how", sheet=f"A{sign}1", results=True)
    assert "\u05d0\u0628" in say("sources.sample_title", sample="\u05d0\u0628")


def test_a_sentence_without_one_of_its_facts_is_an_error() -> None:
    with pytest.raises(UndefinedError, match="sample"):
        say("sources.sample_title")


def test_a_word_that_the_list_has_not_is_its_own_in_letters() -> None:
    assert word("surface", "interior_slab") == lexicon("labels")["surface"]["interior_slab"]
    assert word("surface", "never_heard_of") == "never heard of"
