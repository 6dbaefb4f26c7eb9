"""Control totals of a drafted mapping, counted with the very reader that will read the file."""

from __future__ import annotations

from sitegen.project.delivery.form import read_form
from sitegen.project.delivery.opened import Opened
from sitegen.project.delivery.rows import Miss, lift
from sitegen.project.delivery.tell import Teller, Totals
from sitegen.project.delivery.values import MEASURED, NO, Reader
from sitegen.project.read.cells import tidy
from sitegen.project.read.xlsxtext import Sheet


def totals_of(text: str, sheet: Sheet, mapping: str, file: str) -> tuple[Totals | None, list[Miss]]:
    """Return what the rows that become results come to; None where a person must first say something."""
    form, _ = read_form(mapping, text.encode("utf-8"))
    if form is None:
        return None, []
    lifted, misses = lift(form, sheet)
    if misses:
        return None, misses
    reader, totals = Reader(form), Totals()
    opened = Opened(mapping, form, sheet, lifted, Teller(mapping, file), text, form.source.dates)
    for entry in opened.entries():
        reading = reader.read(tuple(entry.texts.get(name, "") for name in MEASURED))
        replaced = tidy(entry.texts.get("reportable", "")).lower() in NO
        if entry.kind == "result" and not reading.absent and not replaced:
            totals.count(reading.received)
    return totals, []
