"""Pages of results: compounds, patterns, relations, air."""
