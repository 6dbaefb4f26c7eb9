"""Rounds beside each other: what changed from earlier ones to the one that is reported."""
