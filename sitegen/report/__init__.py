"""Decide what the report says and in which order, free of any output format."""
