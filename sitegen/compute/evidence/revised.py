"""Results that a revision changed, added or took out, each with what is on record before and after."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from sitegen.compute.evidence.revision import VALUE_KINDS, Change, Revision
from sitegen.compute.marks import MarkFact
from sitegen.compute.results.store import StoredResult, by_key
from sitegen.project.delivery.files import latest_date, table_text
from sitegen.project.delivery.form import read_form
from sitegen.project.delivery.mapping import mapping_files
from sitegen.project.settings import FilePart
from sitegen.project.survey import Survey

_TABLE = "results:"


class Reissue(NamedTuple):
    """A laboratory's file that replaces a former issue, and the latest date that each has in it, "" for none.

    The date is no more than that: a file does not say that it was issued on it.
    """

    file: str
    former: str
    latest: str
    former_latest: str

    @property
    def dated(self) -> str:
        """The latest date of the file where it is later than any of the former issue, else nothing."""
        return self.latest if self.latest > self.former_latest > "" else ""


@dataclass(frozen=True, slots=True)
class Revised:
    """A result of both revisions that differs, or of one alone (the other is then None).

    ``row`` is the result as it stands, or as it stood where it is no more. ``changes`` are those of its
    cells; a result of one revision alone has the one of its row.
    """

    key: tuple[str, str]
    row: StoredResult
    before: StoredResult | None
    after: StoredResult | None
    before_marks: tuple[MarkFact, ...]
    after_marks: tuple[MarkFact, ...]
    changes: tuple[Change, ...]

    @property
    def kind(self) -> str:
        """What became of it: added, removed, or the weightiest of the changes of its cells."""
        return self.changes[0].kind

    @property
    def factor(self) -> float | None:
        """The mass after by the mass before, None unless both are detections."""
        return next((change.factor for change in self.changes if change.factor is not None), None)

    @property
    def moved(self) -> float:
        """How far a value moved, as a factor of at least 1; infinite where detection itself changed."""
        if self.factor:
            return max(self.factor, 1 / self.factor)
        return float("inf") if self.kind == "detection" else 1.0


def revised_results(old: Revision, new: Revision, changes: Iterable[Change]) -> tuple[Revised, ...]:
    """Return the results that changes are about, those of a point before others, by point and compound."""
    found: dict[tuple[str, str], list[Change]] = {}
    for change in changes:
        if change.key.startswith(_TABLE) and change.kind in (*VALUE_KINDS, "added", "removed"):
            sample, _, analyte = change.key.removeprefix(_TABLE).rpartition("+")
            found.setdefault((sample, analyte), []).append(change)
    if not found:
        return ()
    rows = [by_key(one.evaluation.store, found) for one in (old, new)]
    made = (_revised(old, new, key, about, rows) for key, about in found.items())
    return tuple(sorted((one for one in made if one), key=_place))


def _revised(
    old: Revision,
    new: Revision,
    key: tuple[str, str],
    about: list[Change],
    rows: list[dict[tuple[str, str], StoredResult]],
) -> Revised | None:
    before, after = (each.get(key) for each in rows)
    row = after or before
    return row and Revised(key, row, before, after, _marks(old, before), _marks(new, after), tuple(about))


def _marks(revision: Revision, row: StoredResult | None) -> tuple[MarkFact, ...]:
    """Return the marks of a result, those of custody aside: they are of a bag or a shipment."""
    return revision.evaluation.marks.ringed(row.sampler_id, *row.key) if row else ()


def _place(one: Revised) -> tuple[bool, str, str, str]:
    row = one.row
    return (not row.location_id, row.location_id, row.analyte_id, row.lab_sample_id)


def former_issues(survey: Survey) -> Mapping[str, str]:
    """Return the former issue of each of the laboratory's files whose mapping says that it replaces one."""
    forms = (read_form(path, survey.folder.content(path) or b"")[0] for path in mapping_files(survey.folder))
    return {form.source.file: form.source.replaces for form in forms if form and form.source.replaces}


def reissues(survey: Survey, results: Iterable[Revised]) -> Mapping[str, Reissue]:
    """Return the files of results that replace a former issue, by file."""
    former = former_issues(survey)
    files = dict.fromkeys(one.after.origin.file for one in results if one.after)
    return {file: _reissue(survey, file, former[file]) for file in files if file in former}


def _reissue(survey: Survey, file: str, former: str) -> Reissue:
    return Reissue(file, former, _latest(survey, file), _latest(survey, former))


def _latest(survey: Survey, file: str) -> str:
    encoding = survey.settings.files.get(file, FilePart()).encoding
    return latest_date(table_text(survey.folder, file, encoding)) if file in survey.folder.files else ""
