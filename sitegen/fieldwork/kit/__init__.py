"""The folder that the crew carries: maps, log sheets, forms, labels, stake-out files."""
