"""Findings, comments, limits and lists for a reviewer."""
