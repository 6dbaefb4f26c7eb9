"""Who stands for a mapping: what a person confirmed of a draft, and the totals of the signed report."""

from __future__ import annotations

from decimal import Decimal

from sitegen.findings.problems import Severity, Where
from sitegen.project.delivery.parts import MappingForm
from sitegen.project.delivery.tell import Teller, Totals
from sitegen.voice import worded

TOTALS = ("rows", "detected_rows", "sum_detected")


def is_confirmed(form: MappingForm) -> bool:
    """Tell whether a person stands for the mapping: who confirmed the draft, or who wrote it by hand."""
    return form.confirmed is None or bool(form.confirmed.mapping)


def totals_counted(form: MappingForm) -> bool:
    """Tell whether the totals are those that the draft counted from the file, which nobody compared yet."""
    return form.control.given and form.confirmed is not None and not form.confirmed.control


def confirmations(teller: Teller, form: MappingForm, line: int | None) -> None:
    """Tell what of a draft nobody confirmed; ``line`` is that of ``[confirmed]``."""
    if not is_confirmed(form):
        do = (
            "compare its columns, units, non-detects and samples with the laboratory's report, then enter the role "
            "code of the person who did so as mapping under [confirmed]"
        )
        problem = ("mapping-unconfirmed", Severity.STOP, "a mapping compared with the report by a person", do)
        found = "an unconfirmed draft: none of its rows is used as a result"
        teller.add(problem, Where(teller.mapping, line, "confirmed.mapping"), found, teller.mapping)
    if totals_counted(form):
        do = worded(
            "compare the totals under [control] with the signed report, then enter the role code of the person who did "
            "so as control under [confirmed]"
        )
        problem = (
            "control-unconfirmed",
            Severity.HOLD,
            worded("totals compared with the signed report by a person"),
            do,
        )
        where = Where(teller.mapping, line, "confirmed.control")
        found = worded("totals counted from {file} itself", file=teller.file)
        teller.add(problem, where, found, f"{teller.mapping}+control")


def control_totals(teller: Teller, form: MappingForm, totals: Totals) -> None:
    """Compare the totals of the mapping with those of the rows."""
    how = "counted when the mapping was drafted" if totals_counted(form) else "entered under [control]"
    do = "compare the file with the signed report, row by row if necessary"
    for name in TOTALS:
        stated, counted = getattr(form.control, name), Decimal(getattr(totals, name))
        if stated is not None and not _equal(Decimal(stated), counted):
            problem = ("control-total-differs", Severity.STOP, f"{stated}, as {how}", do)
            where = Where(teller.mapping, None, f"control.{name}")
            found = f"{name} {counted:f} in {teller.file}"
            teller.add(problem, where, found, f"{teller.mapping}+{name}")


def _equal(typed: Decimal, counted: Decimal) -> bool:
    """Tell whether two totals agree to the last digit that was typed.

    >>> _equal(Decimal("12.3"), Decimal("12.34")), _equal(Decimal("12.3"), Decimal("12.4"))
    (True, False)
    """
    exponent = typed.as_tuple().exponent
    return isinstance(exponent, int) and abs(typed - counted) <= Decimal(5).scaleb(exponent - 1)
