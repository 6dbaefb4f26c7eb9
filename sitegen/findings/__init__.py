"""Findings: what a check tells, and the errors that end a run."""
