"""The key of the codes that the report uses for roles and for qualifiers, each with its meaning."""

from __future__ import annotations

from typing import NamedTuple

from sitegen.compute.custody.functions import UNKNOWN, role_functions
from sitegen.compute.results.reported import split_qualifiers
from sitegen.project.schema import QUALIFIERS
from sitegen.report.record.pages import Cell, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.context import Context
from sitegen.report.write.publish import allowed_classes
from sitegen.report.write.traced import traced
from sitegen.report.write.words import say, word


class Code(NamedTuple):
    """A code with the kind of thing that it stands for, and its meaning."""

    code: str
    kind: str
    meaning: str


@traced
def roles_and_codes_table(context: Context) -> Table:
    """Return the roles of the record, where their codes may be shown, and the qualifiers of its results."""
    columns: list[Spec[Code]] = [
        Spec("code", say("review.codes_code"), cell=lambda one: Cell(one.code, tone="strong")),
        Spec("kind", say("review.codes_kind"), cell=lambda one: word("code_kind", one.kind)),
        Spec("meaning", say("review.codes_meaning"), kind="wide", cell=lambda one: one.meaning),
    ]
    found = (*_roles(context), *_qualifiers(context))
    return table("codes", say("review.codes_caption"), columns, found, empty=say("review.codes_none"))


def _roles(context: Context) -> tuple[Code, ...]:
    """Return every role with its function, as stated in the settings or as the record shows it."""
    if "role_codes" not in allowed_classes(context.survey.settings.publish):
        return ()
    functions = role_functions(context.survey)
    meant = {
        code: say("review.role_unknown") if of == UNKNOWN else word("function", of)
        for code, (of, _) in functions.items()
    }
    return tuple(Code(code, "role", meant[code]) for code in sorted(meant))


def _qualifiers(context: Context) -> tuple[Code, ...]:
    """Return the qualifiers that a result of the store has, in the order of the format."""
    store = context.evaluation.store
    stated = {
        text for column in ("lab_qualifier", "validation_qualifier") if len(store) for text in store[column].unique()
    }
    used = {part for text in stated for part in split_qualifiers(text)}
    return tuple(Code(name, "qualifier", word("qualifier_meaning", name)) for name in QUALIFIERS if name in used)
