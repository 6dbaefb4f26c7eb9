"""How things are written: words, values, citations, and for whom."""
