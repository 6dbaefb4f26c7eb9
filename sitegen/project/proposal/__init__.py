"""A mapping file drafted for a laboratory's own file: what was seen, how sure that is, what a person must say."""
