"""How far a result can be trusted: blanks, duplicates, controls, holding times, air."""
