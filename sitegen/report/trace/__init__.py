"""From a printed number back to its rows."""
