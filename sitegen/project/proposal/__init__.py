"""A mapping file proposed for a laboratory's own file: what was seen in it, how sure that is, what a person must say."""
