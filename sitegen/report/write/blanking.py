"""What blanks can say of samples, in words: which kinds are silent, and what then takes a number's place."""

from __future__ import annotations

from sitegen.report.write.context import Context
from sitegen.report.write.words import say, word


def silent_text(context: Context) -> str:
    """Name the kinds of blank that say nothing, and why: ``trip blank: no results on record``; "" for none."""
    silent = [one.kind for one in context.evaluation.silent_blanks]
    wholly = (
        say("quality.silent", kind=word("blank", one.kind).lower(), reach=one.reach, analysed=one.analysed)
        for one in context.evaluation.silent_blanks
    )
    partly = (
        say("quality.partly_silent", kind=word("blank", kind).lower(), basis=context.bases[name])
        for kind, name in (("trip_blank", "trip_blanks"), ("method_blank", "method_blanks"))
        if kind not in silent and context.bases[name].short
    )
    return "; ".join((*wholly, *partly))


def unless_silent(context: Context, text: str) -> str:
    """Return a text that tells what blanks do, or that there is no record where none says anything of samples."""
    if context.evaluation.blanks_speak:
        return text
    return say("quality.blanks_silent", analysed=len(context.evaluation.blanks))


def partly_silent(context: Context) -> str:
    """Name the silent kinds where others do say something; "" where none or every kind is silent."""
    return silent_text(context) if context.evaluation.blanks_speak else ""
