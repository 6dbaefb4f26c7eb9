"""Run every rule: those that need the survey alone, then those that need what was computed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TypeAlias

from sitegen.checks import field, identity, quality, review
from sitegen.compute.evaluate import Evaluation
from sitegen.problems import Finding, in_order
from sitegen.project.survey import Survey

SurveyRule: TypeAlias = Callable[[Survey], Iterator[Finding]]
EvaluationRule: TypeAlias = Callable[[Survey, Evaluation], Iterator[Finding]]

SURVEY_RULES: tuple[SurveyRule, ...] = (*identity.RULES, *field.RULES, *review.RULES)
EVALUATION_RULES: tuple[EvaluationRule, ...] = (*field.EVALUATION_RULES, *quality.EVALUATION_RULES)


def check_survey(survey: Survey) -> tuple[Finding, ...]:
    """Run the rules that must hold before anything is computed."""
    return in_order(finding for rule in SURVEY_RULES for finding in rule(survey))


def check_evaluation(survey: Survey, evaluation: Evaluation) -> tuple[Finding, ...]:
    """Run the rules about what was computed."""
    return in_order(finding for rule in EVALUATION_RULES for finding in rule(survey, evaluation))
