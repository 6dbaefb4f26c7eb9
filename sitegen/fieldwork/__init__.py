"""Work in the field: what the crew carries, what it fills in, and what of it comes back into the folder."""
