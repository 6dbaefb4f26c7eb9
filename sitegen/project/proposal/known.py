"""What the folder knows of samplers, compounds and laboratory samples before a mapping is drafted."""

from __future__ import annotations

from sitegen.project.delivery.names import Compounds
from sitegen.project.folder import Folder
from sitegen.project.load import read_table
from sitegen.project.proposal.words import Known
from sitegen.project.reading import read_reading
from sitegen.project.schema import SETTINGS_FILE
from sitegen.project.settings import FilePart
from sitegen.project.survey import SurveyTable, rows
from sitegen.project.tables import TABLE, Analyte, LabSample, Sampler

_BLANKS = ("trip_blank", "field_blank")


def known_of(folder: Folder) -> Known:
    """Return the samplers and compounds that a folder lists, whatever else it lacks."""
    declared, _, place = read_reading(folder.content(SETTINGS_FILE) or b"")

    def table(name: str) -> SurveyTable:
        spec = TABLE[name]
        return read_table(spec, folder, declared.get(spec.path, FilePart()), place)[0]

    samplers = rows(table("samplers").frame, Sampler)
    return Known(
        Compounds(rows(table("analytes").frame, Analyte), {}),
        frozenset(one.sampler_id for one in samplers),
        {one.label: one.sampler_id for one in samplers if one.label},
        {one.lab_sample_id: one.sampler_id for one in rows(table("lab_samples").frame, LabSample)},
        {one.sampler_id: one.kind for one in samplers if one.kind in _BLANKS},
    )
