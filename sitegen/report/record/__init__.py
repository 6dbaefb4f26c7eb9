"""The report as frozen records, known to every writer."""
