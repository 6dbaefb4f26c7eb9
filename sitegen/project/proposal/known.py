"""What the folder knows of samplers, compounds and laboratory samples before a mapping is drafted."""

from __future__ import annotations

from sitegen.project.delivery.mapping import mapped_files
from sitegen.project.delivery.names import Compounds
from sitegen.project.folder import Folder
from sitegen.project.intake.complete import complete
from sitegen.project.intake.text import table_texts
from sitegen.project.intake.typed import typed_tables
from sitegen.project.proposal.words import Known
from sitegen.project.reading import read_reading
from sitegen.project.schema import SETTINGS_FILE
from sitegen.project.survey import rows
from sitegen.project.tables import Analyte, LabSample, Sampler

_BLANKS = ("trip_blank", "field_blank")


def known_of(folder: Folder) -> Known:
    """Return the samplers and compounds that a folder lists, whatever else it lacks."""
    stated = folder.content(SETTINGS_FILE) or b""
    declared, _, place = read_reading(stated)
    texts, _ = complete(table_texts(folder, declared, mapped_files(folder)).tables, stated)
    tables, _ = typed_tables(texts, place)
    samplers = rows(tables["samplers"].frame, Sampler)
    return Known(
        Compounds(rows(tables["analytes"].frame, Analyte), {}),
        frozenset(one.sampler_id for one in samplers),
        {one.label: one.sampler_id for one in samplers if one.label},
        {one.lab_sample_id: one.sampler_id for one in rows(tables["lab_samples"].frame, LabSample)},
        {one.sampler_id: one.kind for one in samplers if one.kind in _BLANKS},
        frozenset(one.sampler_id for one in samplers if not one.kind),
    )
