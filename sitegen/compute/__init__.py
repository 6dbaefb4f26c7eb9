"""Compute what the data support: pure functions from a survey to frozen records."""
