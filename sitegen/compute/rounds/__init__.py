"""Rounds of a survey: which rows are of which, and what changed from one to the next."""
