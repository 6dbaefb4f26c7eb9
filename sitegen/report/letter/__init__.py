"""The cover letter: what a person who hands the report over would say of it, in the report's own numbers."""
