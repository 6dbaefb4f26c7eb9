"""The field log typed a second time, to compare with the first; no number comes from it."""

from __future__ import annotations

from sitegen.findings.problems import Finding
from sitegen.project.intake.reform import in_our_forms
from sitegen.project.read.csvtext import read_csv
from sitegen.project.read.typed import type_table
from sitegen.project.schema import SECOND_LOG
from sitegen.project.settings import FilePart
from sitegen.project.survey import Survey, SurveyTable
from sitegen.project.tables import DEPLOYMENTS


def second_log(survey: Survey) -> tuple[SurveyTable | None, list[Finding]]:
    """Return the second log as a table like the first, None where there is none that can be read, and why.

    It is read in the forms that project.toml declares for its own path. What its cells lack is told by
    comparing them, so that only a file that can't be read gives findings here.
    """
    content = survey.folder.content(SECOND_LOG)
    if content is None:
        return None, []
    how = survey.settings.files.get(SECOND_LOG, FilePart())
    raw, problems = read_csv(SECOND_LOG, content, encoding=how.encoding, delimiter=how.delimiter)
    if raw is None:
        return None, problems
    read = in_our_forms(DEPLOYMENTS, raw, how)
    table, _ = type_table(DEPLOYMENTS, read, survey.time_zone, SECOND_LOG, raw)
    return table, problems
