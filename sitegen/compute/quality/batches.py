"""Analysis batches: which samples were analysed together, and which blanks speak for them."""

from __future__ import annotations

from dataclasses import dataclass

from sitegen.project.survey import Survey
from sitegen.project.tables import LabSample

QC_TYPES = ("method_blank", "control", "control_duplicate")


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch with its laboratory samples (rows of lab_samples.csv) by type, in file order."""

    batch_id: str
    samples: tuple[LabSample, ...]

    def of_type(self, *types: str) -> tuple[LabSample, ...]:
        """Return the samples of given types."""
        return tuple(row for row in self.samples if row.type in types)


def batches(survey: Survey) -> tuple[Batch, ...]:
    """Return every batch that laboratory samples name, in order of first mention."""
    samples: dict[str, list[LabSample]] = {}
    for row in survey.rows(LabSample):
        if row.batch_id:
            samples.setdefault(row.batch_id, []).append(row)
    return tuple(Batch(name, tuple(rows)) for name, rows in samples.items())
