"""The page on quality and its tables."""
