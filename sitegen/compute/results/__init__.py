"""Results: the store, what the laboratory wrote, summaries, sums, concentrations, relations."""
