"""The function of each role: what the settings state, else what the record shows that it did; never its code.

Where codes are withheld a reader still has to tell the crew from the carrier and the laboratory.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

from sitegen.compute.custody.events import by_carrier
from sitegen.project.delivery.form import read_form
from sitegen.project.delivery.mapping import mapping_files
from sitegen.project.survey import Survey
from sitegen.project.tables import CustodyEvent, Deployment, ReturnBag, ReviewComment, SignOff

ROLE_COLUMNS = (
    "by_role", "to_role", "placed_by", "retrieved_by", "sealed_by", "agreed_by_role", "responded_by", "role",
)  # fmt: skip
"""The columns of the format that hold the code of a role."""
UNKNOWN = ""
"""The function of a role of which the record does not say what it does."""
_AT_LABORATORY = ("lab_received", "analysed")
_BY_CREW = ("placed", "retrieved", "bagged")


def role_functions(survey: Survey) -> dict[str, tuple[str, int]]:
    """Return the function of every role of the record, and its number among the roles of that function.

    A function that one role alone has is numbered 0. Numbers follow the order in which the roles first
    stand in the record, so that they are the same in each build and tell nothing of the code.
    """
    known: dict[str, str] = {}
    for code, function in (*_from_settings(survey), *_from_record(survey)):
        known.setdefault(code, function)
    functions = {code: known.get(code, UNKNOWN) for code in _codes(survey)}
    many = {function for function, count in Counter(functions.values()).items() if count > 1}
    seen: Counter[str] = Counter()
    numbered = {}
    for code, function in functions.items():
        seen[function] += 1
        numbered[code] = (function, seen[function] if function in many else 0)
    return numbered


def _codes(survey: Survey) -> dict[str, None]:
    """Return every role of the record: by tables and their rows, then who must sign, then who confirmed a mapping."""
    named: dict[str, None] = {}
    for table in survey.tables.values():
        columns = [column for column in ROLE_COLUMNS if column in table.frame]
        named |= dict.fromkeys(
            code for codes in zip(*(table.frame[name] for name in columns), strict=True) for code in codes if code
        )
    return named | dict.fromkeys((*survey.settings.signoff.roles_required, *_confirming(survey)))


def _confirming(survey: Survey) -> Iterator[str]:
    """Yield the roles that confirmed a drafted mapping, or its totals."""
    for path in mapping_files(survey.folder):
        form, _ = read_form(path, survey.folder.content(path) or b"")
        if form is not None and form.confirmed is not None:
            yield from filter(None, (form.confirmed.mapping, form.confirmed.control))


def _from_settings(survey: Survey) -> Iterator[tuple[str, str]]:
    yield from survey.settings.roles.items()


def _from_record(survey: Survey) -> Iterator[tuple[str, str]]:
    """Yield (role, function) from what was done, what tells most first."""
    custody = survey.rows(CustodyEvent)
    organisations = {
        _plain(survey.settings.lab.name): "laboratory",
        _plain(survey.settings.project.client): "client",
    }
    yield from ((row.by_role, "laboratory") for row in custody if row.event in _AT_LABORATORY)
    yield from ((row.by_role, "carrier") for row in custody if by_carrier(row.event, row.organisation))
    yield from _crew(survey, custody)
    for row in custody:
        if row.organisation and (function := organisations.get(_plain(row.organisation))):
            yield row.by_role, function
    yield from ((row.role, "licensed_reviewer") for row in survey.rows(SignOff) if row.licence_ref)
    yield from ((row.by_role, "reviewer") for row in survey.rows(ReviewComment))
    yield from ((role, "signatory") for role in survey.settings.signoff.roles_required)
    yield from ((row.role, "signatory") for row in survey.rows(SignOff))


def _crew(survey: Survey, custody: Iterable[CustodyEvent]) -> Iterator[tuple[str, str]]:
    for row in survey.rows(Deployment):
        yield from ((row.placed_by, "crew"), (row.retrieved_by, "crew"))
    yield from ((row.sealed_by, "crew") for row in survey.rows(ReturnBag))
    yield from ((row.by_role, "crew") for row in custody if row.event in _BY_CREW)


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def role_words(survey: Survey, words: Mapping[str, str]) -> dict[str, str]:
    """Return what stands for each role's code: its function in ``words``, with a number where several have it.

    A role whose function is not on record is ``words["unknown"]``, or ``words["unknown_many"]`` with a number.
    """
    stand_in = {}
    for code, (function, number) in role_functions(survey).items():
        if number:
            stand_in[code] = f"{words[function or 'unknown_many']} {number}"
        else:
            stand_in[code] = words[function or "unknown"]
    return stand_in
