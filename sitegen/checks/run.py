"""Run every rule: those that need the survey alone, then those that need what was computed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import chain
from typing import TypeAlias

from sitegen.checks import (
    background,
    bags,
    comments,
    compounds,
    conclusions,
    custody,
    deliveries,
    dispositions,
    doubleentry,
    field,
    fieldwork,
    files,
    handling,
    hemisphere,
    identity,
    laboratory,
    lettering,
    mobilisation,
    narrative,
    night,
    patterns,
    photos,
    place,
    plandays,
    privacy,
    quality,
    results,
    review,
    roles,
    samplers,
    screening,
    space,
    systems,
    theme,
    time,
    timely,
    weather,
)
from sitegen.checks.filled import with_rules
from sitegen.checks.outside import outside_findings
from sitegen.checks.unread import independent
from sitegen.compute.evaluate import Evaluation
from sitegen.findings.problems import Finding
from sitegen.project.places import in_order
from sitegen.project.survey import Survey

SurveyRule: TypeAlias = Callable[[Survey], Iterator[Finding]]
EvaluationRule: TypeAlias = Callable[[Survey, Evaluation], Iterator[Finding]]

SURVEY_RULES: tuple[SurveyRule, ...] = (
    *files.RULES,
    *timely.RULES,
    *background.RULES,
    *theme.RULES,
    *identity.RULES,
    *compounds.RULES,
    *systems.RULES,
    *space.RULES,
    *hemisphere.RULES,
    *time.RULES,
    *night.RULES,
    *plandays.RULES,
    *mobilisation.RULES,
    *samplers.RULES,
    *roles.RULES,
    *fieldwork.RULES,
    *doubleentry.RULES,
    *comments.RULES,
    *custody.RULES,
    *bags.RULES,
    *handling.RULES,
    *photos.RULES,
    *results.RULES,
    *deliveries.RULES,
    *laboratory.RULES,
    *screening.RULES,
    *weather.RULES,
    *narrative.RULES,
    *privacy.RULES,
    *lettering.RULES,
    *review.RULES,
)
EVALUATION_RULES: tuple[EvaluationRule, ...] = (
    *place.EVALUATION_RULES,
    *mobilisation.EVALUATION_RULES,
    *time.EVALUATION_RULES,
    *field.EVALUATION_RULES,
    *fieldwork.EVALUATION_RULES,
    *custody.EVALUATION_RULES,
    *bags.EVALUATION_RULES,
    *handling.EVALUATION_RULES,
    *photos.EVALUATION_RULES,
    *laboratory.EVALUATION_RULES,
    *quality.EVALUATION_RULES,
    *patterns.EVALUATION_RULES,
    *screening.EVALUATION_RULES,
    *conclusions.EVALUATION_RULES,
)


def check_reading(survey: Survey, read: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return the findings of reading a folder that follow from no other, and are due."""
    return tuple(timely.timely(survey, independent(read, read), read))


def check_survey(survey: Survey, read: Sequence[Finding] = ()) -> tuple[Finding, ...]:
    """Run the rules that must hold before anything is computed; ``read`` are the findings of reading the folder."""
    own = (finding for rule in SURVEY_RULES for finding in rule(survey))
    found = chain(own, outside_findings("RULES", survey))
    due = timely.timely(survey, independent(read, found), read)
    return in_order(with_rules(survey, privacy.without_quotes(survey, due)))


def check_evaluation(survey: Survey, evaluation: Evaluation) -> tuple[Finding, ...]:
    """Run the rules about what was computed."""
    own = (finding for rule in EVALUATION_RULES for finding in rule(survey, evaluation))
    found = chain(own, outside_findings("EVALUATION_RULES", survey, evaluation))
    return in_order(with_rules(survey, timely.timely(survey, found, ())))


def check_decisions(survey: Survey, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Run the rules about dispositions, which need every other finding first."""
    return in_order(dispositions.check_dispositions(survey, findings))
