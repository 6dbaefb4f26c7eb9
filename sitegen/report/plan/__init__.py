"""The work plan as a report: what is planned, why, when, and what to mind, before any result is there."""
