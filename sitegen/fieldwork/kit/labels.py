"""Labels for the samplers of a plan: the field sample id large, what it serves as, and a QR code with check characters.

A sheet of labels is told by its measures alone. They are common practice, no source: measure a sheet before it is
printed on, and print at actual size.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass

from sitegen.compute.design.allocation import Slot
from sitegen.compute.design.fieldplan import FieldPlan
from sitegen.fieldwork.kit.checkletters import check_letters, qr_text
from sitegen.fieldwork.kit.qrcodes import qr_svg
from sitegen.fieldwork.kit.serials import known_serials
from sitegen.fieldwork.kit.typeset import set_pdf
from sitegen.project.survey import Survey


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet of labels by its measures: the first label's corner, each label's size, and the way to the next."""

    paper: str
    columns: int
    rows: int
    width_mm: float
    height_mm: float
    left_mm: float
    top_mm: float
    step_x_mm: float
    step_y_mm: float


SHEETS: Mapping[str, Sheet] = {
    "a4-3x8": Sheet("a4", 3, 8, 70.0, 37.0, 0.0, 0.5, 70.0, 37.0),
    "a4-4x11": Sheet("a4", 4, 11, 48.5, 25.4, 8.0, 8.8, 48.5, 25.4),
    "letter-3x10": Sheet("us-letter", 3, 10, 66.675, 25.4, 4.7625, 12.7, 69.85, 25.4),
}
"""By names of our own: paper, columns by rows. Letter: labels of 2 5/8 by 1 in, 1/8 in apart."""

DEFAULT: Mapping[str, str] = {"a4": "a4-3x8", "us-letter": "letter-3x10"}
"""The sheet for each paper that ``[publish] paper`` may name."""


@dataclass(frozen=True, slots=True)
class Label:
    """One label; ``serial`` is "" where none is on record.

    ``identity`` is the serial, else the label: QR code and ``letters`` are of it. ``use`` is a word of
    ``samplers.kind``, ``parent`` the label of the primary of a duplicate.
    """

    label: str
    use: str
    location_id: str
    parent: str
    bag_id: str
    serial: str
    letters: str
    identity: str


@dataclass(frozen=True, slots=True)
class LabelSheets:
    """All labels of a plan in its order, and the sheet that they are set on."""

    name: str
    sheet: Sheet
    project_id: str
    labels: tuple[Label, ...]


def label_sheets(survey: Survey, plan: FieldPlan, sheet: str = "") -> LabelSheets:
    """Return a label for each sampler of the plan. KeyError where ``sheet`` is not one of ``SHEETS``, nor ""."""
    name = sheet or DEFAULT[survey.settings.publish.paper]
    serials = known_serials(survey)
    labels = tuple(_label(slot, serials.get(slot.label, "")) for slot in plan.allocation.slots)
    return LabelSheets(name, SHEETS[name], survey.settings.project.id, labels)


def labels_pdf(survey: Survey, plan: FieldPlan, sheet: str = "") -> bytes:
    """Return the labels as a PDF, on the sheet for the project's paper or on another of ``SHEETS``."""
    made = label_sheets(survey, plan, sheet)
    project = survey.settings.project
    data = {
        "sheet": asdict(made.sheet),
        "project": {"id": project.id, "title": project.title, "prepared_by": project.prepared_by},
        "labels": [asdict(one) | {"svg": qr_svg(qr_text(one.identity))} for one in made.labels],
    }
    return set_pdf("labels", data, paper=made.sheet.paper, day=project.report_date)


def _label(slot: Slot, serial: str) -> Label:
    identity = serial or slot.label
    return Label(
        slot.label, slot.use, slot.location_id, slot.parent, slot.bag_id, serial, check_letters(identity), identity
    )
