"""A small package that adds a check, a page and a laboratory layout to the program, as ``docs/extending.md`` tells."""
