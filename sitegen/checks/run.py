"""Run every rule: those that need the survey alone, then those that need what was computed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
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
    rounds,
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
from sitegen.compute.rounds.campaigns import Campaign
from sitegen.compute.rounds.split import Part, parts
from sitegen.findings.problems import Finding
from sitegen.project.places import in_order
from sitegen.project.survey import Survey
from sitegen.project.tables import CustodyEvent, LabSample, ReturnBag, Sampler, Shipment

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
    *rounds.RULES,
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

PER_ROUND: tuple[SurveyRule, ...] = (
    space.plan_counts,
    *plandays.RULES,
    *mobilisation.RULES,
    samplers.one_type,
    samplers.labels_differ,
    roles.one_primary,
    fieldwork.depths,
    fieldwork.clearance,
    results.units,
    results.mass_unit,
    laboratory.compounds_complete,
    *weather.RULES,
)
"""Those of the rules above that ask what is sound within a round, and no more than that."""
NOT_EARLIER: tuple[EvaluationRule, ...] = conclusions.EVALUATION_RULES
"""Rules that hold the narrative, which is about the round reported, against what was computed."""
OF_ONE_ROUND = (Sampler, ReturnBag, Shipment, LabSample, CustodyEvent)
"""Records whose ids are of one round, as a rule."""


def check_reading(survey: Survey, read: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return the findings of reading a folder that follow from no other, and are due."""
    return tuple(timely.timely(survey, independent(read, read), read))


def check_survey(survey: Survey, read: Sequence[Finding] = ()) -> tuple[Finding, ...]:
    """Run the rules that must hold before anything is computed; ``read`` are the findings of reading the folder."""
    own = parts(survey)
    whole = SURVEY_RULES if len(own) == 1 else tuple(rule for rule in SURVEY_RULES if rule not in PER_ROUND)
    found = chain((finding for rule in whole for finding in rule(survey)), outside_findings("RULES", survey))
    due = [*timely.timely(survey, independent(read, found), read)]
    if len(own) > 1:
        due += _by_round(own, lambda part: (finding for rule in PER_ROUND for finding in rule(part.survey)), read)
    return in_order(with_rules(survey, privacy.without_quotes(survey, due)))


def check_evaluation(survey: Survey, evaluation: Evaluation) -> tuple[Finding, ...]:
    """Run the rules about what was computed of a survey with one round."""
    return check_parts((Part(Campaign(), survey, evaluation),))


def check_parts(own: Sequence[Part]) -> tuple[Finding, ...]:
    """Run the rules about what was computed, for each round; those about the narrative for the last alone."""
    found = _by_round(own, lambda part: _about_evaluation(part, reported=part is own[-1]), ())
    return in_order(with_rules(own[-1].survey, found))


def _about_evaluation(part: Part, *, reported: bool) -> Iterator[Finding]:
    rules = (rule for rule in EVALUATION_RULES if reported or rule not in NOT_EARLIER)
    yield from (finding for rule in rules for finding in rule(part.survey, part.evaluation))
    yield from outside_findings("EVALUATION_RULES", part.survey, part.evaluation)


def _by_round(
    own: Sequence[Part], run: Callable[[Part], Iterable[Finding]], read: Sequence[Finding]
) -> Iterator[Finding]:
    """Yield what rules find in each round, as far as it is due there, each finding with its round.

    The key of a finding of the first round is as it was when there was one; that of a later round names it,
    unless it is about something with an id that no other round has.
    """
    ids = [_ids(part.survey) for part in own] if len(own) > 1 else [frozenset[str]()]
    for at, part in enumerate(own):
        name = part.campaign.id
        alone = ids[at].difference(*(other for number, other in enumerate(ids) if number != at))
        for finding in timely.timely(part.survey, independent(read, run(part)), ()):
            named = not at or not name or not alone.isdisjoint(finding.subject.split("+"))
            subject = finding.subject if named else f"{finding.subject}@{name}"
            yield replace(finding, subject=subject, round=name) if name else finding


def _ids(survey: Survey) -> frozenset[str]:
    return frozenset(str(row[0]) for of in OF_ONE_ROUND for row in survey.rows(of))


def check_decisions(survey: Survey, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Run the rules about dispositions, which need every other finding first."""
    return in_order(dispositions.check_dispositions(survey, findings))
