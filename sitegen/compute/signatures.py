"""Signatures on file: rows of ``review/signoff.csv`` that say when they were made."""

from __future__ import annotations

from typing import Any

from sitegen.project.survey import Survey


def signatures(survey: Survey) -> tuple[dict[str, Any], ...]:
    """Return the signatures of the survey's own revision; a row without its moment is none yet."""
    revision = survey.settings.project.revision
    return tuple(row for row in survey.records("signoff") if row["revision"] == revision and row["signed_at"])


def signature_state(survey: Survey) -> str:
    """Return how this revision's signatures stand to this very content.

    ``none``: nobody signed; ``stale``: a signature is for other content; ``part``: a required
    role has yet to sign; ``whole``: every required role signed what is here.
    """
    rows = signatures(survey)
    if not rows:
        return "none"
    if any(row["content_digest"] != survey.digest for row in rows):
        return "stale"
    required = set(survey.settings.signoff.roles_required)
    return "whole" if required <= {row["role"] for row in rows} else "part"


def signed_roles(survey: Survey) -> frozenset[str]:
    """Return the roles that signed this very content."""
    return frozenset(row["role"] for row in signatures(survey) if row["content_digest"] == survey.digest)
