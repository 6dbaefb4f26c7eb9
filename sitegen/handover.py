"""The commands of the hand-over: a map to print alone, a cover letter, a shelf of archives."""

from __future__ import annotations
