"""Check a survey and what was computed from it; findings out, nothing else."""
