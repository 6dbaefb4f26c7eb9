"""Build a report, data exports and an archive from a passive soil-gas survey's project folder."""

__version__ = "0.1.0"
