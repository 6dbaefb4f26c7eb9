"""A laboratory's own files, read through a mapping into the tables of the format."""
