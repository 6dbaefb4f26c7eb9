"""Signatures on file: rows of ``review/signoff.csv`` that say when they were made."""

from __future__ import annotations

from dataclasses import dataclass

from sitegen.project.survey import Survey
from sitegen.project.tables import SignOff


def signatures(survey: Survey) -> tuple[SignOff, ...]:
    """Return the signatures of the survey's own revision; a row without its moment is none yet."""
    revision = survey.settings.project.revision
    return tuple(row for row in survey.rows(SignOff) if row.revision == revision and row.signed_at)


def signature_state(survey: Survey) -> str:
    """Return how this revision's signatures stand to this very content.

    ``none``: nobody signed; ``stale``: a signature is for other content; ``part``: a required
    role has yet to sign; ``whole``: every required role signed what is here.
    """
    rows = signatures(survey)
    if not rows:
        return "none"
    if any(row.content_digest != survey.digest for row in rows):
        return "stale"
    required = set(survey.settings.signoff.roles_required)
    return "whole" if required <= {row.role for row in rows} else "part"


def signed_roles(survey: Survey) -> frozenset[str]:
    """Return the roles that signed this very content."""
    return frozenset(row.role for row in signatures(survey) if row.content_digest == survey.digest)


@dataclass(frozen=True, slots=True)
class Unsigned:
    """A required role that has not signed this content: the row nearest to a signature, and what it lacks.

    ``row`` is None where the role has no row at all; ``lack`` is then "row". Else it names what the
    row lacks: "revision" (it is for another one), "moment", or "digest" (it is for other content).
    """

    role: str
    lack: str
    row: SignOff | None = None


def unsigned_roles(survey: Survey) -> tuple[Unsigned, ...]:
    """Return the required roles without a signature for this very content, in the order of the settings."""
    signed = signed_roles(survey)
    required = dict.fromkeys(survey.settings.signoff.roles_required)
    return tuple(_nearest_to_signing(survey, role) for role in required if role not in signed)


def _nearest_to_signing(survey: Survey, role: str) -> Unsigned:
    rows = [row for row in survey.rows(SignOff) if row.role == role]
    if not rows:
        return Unsigned(role, "row")
    now = [row for row in rows if row.revision == survey.settings.project.revision]
    if not now:
        return Unsigned(role, "revision", max(rows, key=lambda row: row.revision))
    return Unsigned(role, "digest" if now[0].signed_at else "moment", now[0])
