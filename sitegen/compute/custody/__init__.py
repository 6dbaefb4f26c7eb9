"""Custody: events, chains, seals, signatures, and the marks that they lay."""
