"""The library face: a survey as documented frames, summaries, figures and builds, for notebooks and scripts.

>>> import sitegen
>>> survey = sitegen.read("example_project")        # doctest: +SKIP
>>> survey.results[["location_id", "compound", "value", "unit"]]        # doctest: +SKIP

Frames hold what the downloads hold, with the same names: a column's meaning is told by
:meth:`Survey.columns`. A non-detect has no value, an empty cell is missing (``pandas.NA``).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from functools import cached_property
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import pandas as pd
from shapely import Point

from sitegen.checking import Checked, check
from sitegen.compute.evaluate import Evaluation
from sitegen.findings.problems import Finding, Severity, Stopped, WrongUse
from sitegen.project.survey import Survey as Record
from sitegen.project.voices import voice_of
from sitegen.report.data.exports import compounds_export, results_export
from sitegen.report.data.over import ROUND
from sitegen.report.data.places import locations_export
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.pages import Figure
from sitegen.report.record.specs import BOOLEAN, INTEGER, NUMBER, TEXT, Spec, export
from sitegen.report.results.compound import map_figure, ranked_figure
from sitegen.report.results.mapdata import ground
from sitegen.report.rounds.sides import round_ids
from sitegen.report.write.context import Context, context_of
from sitegen.voice import speaking, voice

if TYPE_CHECKING:
    from sitegen.compute.field.exposure import Placement
    from sitegen.pipeline import Built

T = TypeVar("T")

_DTYPES: Mapping[str, Any] = {TEXT: "string", NUMBER: "Float64", INTEGER: "Int64", BOOLEAN: "boolean"}


@dataclass(frozen=True, slots=True)
class Drawing:
    """A figure of the report: SVG that shows in a notebook, its caption, and what it shows in words."""

    svg: str
    caption: str
    alt: str

    def _repr_svg_(self) -> str:
        return self.svg

    def save(self, path: str | Path) -> Path:
        """Write the drawing as an SVG file, and return its path."""
        target = Path(path)
        target.write_text(self.svg, encoding="utf-8")
        return target


def read(folder: str | Path) -> Survey:
    """Read and check a project folder.

    Returns the survey, sound or not: ask :attr:`Survey.sound`, or look at :meth:`Survey.check`.
    Raises WrongUse where ``folder`` is no folder.
    """
    return Survey(Path(folder))


class Survey:
    """One project folder, read once.

    Frames, summaries and figures need a record that nothing stops; else they raise Stopped,
    whose findings say what is in the way. All of them hold the whole record, whatever the
    publish level of the settings leaves out of a report.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._checked: Checked = check(folder)

    def __repr__(self) -> str:
        state = "sound" if self.sound else "stopped by findings"
        return f"<sitegen survey of {self.folder.name!r}, {state}>"

    @property
    def sound(self) -> bool:
        """Whether nothing stops the record from being computed."""
        return self._checked.evaluation is not None and not self._checked.stopped

    def check(self) -> pd.DataFrame:
        """Return every finding, worst first: what was found where, what was expected, what to do.

        ``severity`` is an ordered category from note to stop; ``row`` is empty where a finding has none.
        """
        frame = _frame(self._findings)
        order = [severity.value for severity in sorted(Severity, key=lambda one: -one.rank)]
        frame["severity"] = pd.Categorical(frame["severity"], categories=order, ordered=True)
        return frame

    @cached_property
    def results(self) -> pd.DataFrame:
        """Every result, blanks and re-runs included; a non-detect has no ``value``.

        With several rounds on record, those of each stand in ``results``, ``points`` and ``compounds``, and a column
        ``round`` tells which.
        """
        return _frame(self._tables["results"])

    @cached_property
    def points(self) -> pd.DataFrame:
        """Every point with its position and state.

        Where geopandas is installed it is a GeoDataFrame in WGS 84 (EPSG:4326), with a column ``geometry``
        besides, which is missing for a point without a position.
        """
        return _placed(_frame(self._tables["points"]))

    @cached_property
    def exposures(self) -> pd.DataFrame:
        """Every sampler placed and field blank opened, with its exposure in minutes and days of 1,440 minutes."""
        frame = _frame(self._tables["exposures"])
        for name in ("placed_at", "retrieved_at"):
            frame[name] = pd.to_datetime(frame[name].astype("float64") * 60, unit="s", utc=True)
        return frame

    @cached_property
    def compounds(self) -> pd.DataFrame:
        """The summaries of each compound, one row for each group of points."""
        return _frame(self._tables["compounds"])

    def columns(self, name: str) -> pd.DataFrame:
        """Return unit and meaning of each column of a frame.

        The frames are ``results``, ``points``, ``exposures`` and ``compounds``, and ``findings`` is what
        :meth:`Survey.check` returns. Raises WrongUse for another name.
        """
        fields = (self._findings if name == "findings" else _known(name, self._tables, "frame")).fields
        return pd.DataFrame({"unit": [f.unit for f in fields], "meaning": [f.meaning for f in fields]},
                            index=pd.Index([f.name for f in fields], name="column"))  # fmt: skip

    def summary(self, compound: str) -> pd.DataFrame:
        """Return the summaries of one compound, by its id, name or CAS number, indexed by group of points.

        Of several rounds they are those of the one that the report is about.
        Raises WrongUse where the survey has no such compound.
        """
        found = self.compounds[self.compounds["analyte_id"] == self._compound(compound)]
        if ROUND in found:
            found = found[found[ROUND] == round_ids(self._context)[-1]]
        return found.set_index("group")

    def figure(self, kind: str, compound: str) -> Drawing:
        """Return a figure of a compound: ``map`` or ``ranking``.

        Raises WrongUse for another kind, for a compound that the survey has not, and for a map
        where no point has a position.
        """
        draw = _known(kind, _FIGURES, "figure")
        with self._speaking():
            figure = draw(self._context, self._compound(compound))
        return Drawing(figure.svg, figure.caption, figure.alt)

    def build(self, out: str | Path, *, issue: bool = False) -> Built:
        """Build the report into ``out``, as ``sitegen build`` does; raises what that raises."""
        from sitegen.pipeline import build  # noqa: PLC0415 - a look at a frame doesn't load what draws a site

        return build(self.folder, Path(out), issue=issue)

    @cached_property
    def _context(self) -> Context:
        survey, _ = self._computed
        with self._speaking():
            return context_of(survey, self._checked.parts, self._checked.findings)

    def _speaking(self) -> AbstractContextManager[None]:
        """Let the project's voice speak, as in its report."""
        survey = self._checked.survey
        return speaking(voice_of(survey.folder) if survey else voice())

    @property
    def _computed(self) -> tuple[Record, Evaluation]:
        survey, evaluation = self._checked.survey, self._checked.evaluation
        if survey is None or evaluation is None or self._checked.stopped:
            raise Stopped(self._checked.findings)
        return survey, evaluation

    @cached_property
    def _findings(self) -> ExportTable:
        with self._speaking():
            return export("findings", "", "", _FINDING_COLUMNS, self._checked.findings)

    @cached_property
    def _tables(self) -> Mapping[str, ExportTable]:
        context = self._context
        with self._speaking():
            return {
                "results": results_export(context),
                "points": locations_export(context),
                "exposures": export("exposures", "", "", _EXPOSURE_COLUMNS, context.evaluation.deployed),
                "compounds": compounds_export(context),
                "findings": self._findings,
            }

    def _compound(self, text: str) -> str:
        names = {
            alias.casefold(): compound.analyte_id
            for compound in self._computed[1].compounds
            for alias in (compound.cas, compound.name, compound.analyte_id)
        }
        return _known(text.casefold(), names, "compound")


def _known(name: str, among: Mapping[str, T], what: str) -> T:
    if name not in among:
        raise WrongUse(f"no {what} {name!r}: there are {', '.join(sorted(among))}")
    return among[name]


def _frame(table: ExportTable) -> pd.DataFrame:
    """Return a table as a frame; each column has the type of its field, and what is empty is missing."""
    columns = list(zip(*table.rows, strict=True)) or [()] * len(table.fields)
    return pd.DataFrame(
        {
            field.name: pd.Series([None if value == "" else value for value in values], dtype=_DTYPES[field.type])
            for field, values in zip(table.fields, columns, strict=True)
        }
    )


def _placed(frame: pd.DataFrame) -> pd.DataFrame:
    """Return points as a GeoDataFrame where geopandas is installed, else as they are; no position, no geometry."""
    if find_spec("geopandas") is None:
        return frame
    import geopandas  # type: ignore[import-not-found,import-untyped,unused-ignore] # noqa: PLC0415 - not ours

    places = [
        None if pd.isna(longitude) else Point(longitude, latitude)
        for longitude, latitude in zip(frame["longitude"], frame["latitude"], strict=True)
    ]
    result: pd.DataFrame = geopandas.GeoDataFrame(frame, geometry=places, crs="EPSG:4326")
    return result


def _map(context: Context, analyte_id: str) -> Figure:
    drawn = ground(context)
    if drawn is None:
        raise WrongUse("no point has a position on record, so no map can be drawn")
    return map_figure(context, context.compounds[analyte_id], drawn)


def _ranking(context: Context, analyte_id: str) -> Figure:
    return ranked_figure(context, context.compounds[analyte_id])


_FIGURES: Mapping[str, Callable[[Context, str], Figure]] = {"map": _map, "ranking": _ranking}

_FINDING_COLUMNS: tuple[Spec[Finding], ...] = (
    Spec("severity", meaning="stop, hold, flag or note", value=lambda f: f.severity.value),
    Spec("code", meaning="the check", value=lambda f: f.code),
    Spec("subject", meaning="what it is about", value=lambda f: f.subject),
    Spec("file", meaning="the file", value=lambda f: f.where.file),
    Spec("row", type=INTEGER, meaning="row as a spreadsheet counts", value=lambda f: f.where.row),
    Spec("column", meaning="the column", value=lambda f: f.where.column),
    Spec("found", meaning="what was found", value=lambda f: f.found),
    Spec("expected", meaning="what was expected", value=lambda f: f.expected),
    Spec("do", meaning="what to do", value=lambda f: f.do),
)

_EXPOSURE_COLUMNS: tuple[Spec[Placement], ...] = (
    Spec("sampler_id", meaning="serial of the sampler; leading zeros count", value=lambda p: p.sampler_id),
    Spec("location_id", meaning="point where it was installed or opened", value=lambda p: p.location_id),
    Spec("role", meaning="primary, duplicate or field_blank", value=lambda p: p.role),
    Spec("medium", meaning="what was sampled", value=lambda p: p.medium),
    Spec("surface", meaning="surface there", value=lambda p: p.surface),
    Spec("state", meaning="retrieved, in_place, lost or retrieval_not_recorded", value=lambda p: p.state),
    Spec("placed_at", "", "UTC", type=INTEGER, meaning="when it was installed", value=lambda p: p.placed_utc),
    Spec("retrieved_at", "", "UTC", type=INTEGER, meaning="when it was retrieved", value=lambda p: p.retrieved_utc),
    Spec("exposure_min", "", "min", type=INTEGER, meaning="exposure in UTC minutes", value=lambda p: p.exposure_min),
    Spec(
        "exposure_days", "", "d", type=NUMBER, meaning="the same in days of 1,440 min", value=lambda p: p.exposure_days
    ),
    Spec("depth_m", "", "m", type=NUMBER, meaning="depth of the sampler", value=lambda p: p.depth_m),
    Spec("condition", meaning="condition on retrieval", value=lambda p: p.condition),
    Spec("bag_id", meaning="return bag", value=lambda p: p.bag_id),
    Spec(
        "source_row", type=INTEGER, meaning="row in deployments.csv; the header is row 1", value=lambda p: p.origin.row
    ),
)
