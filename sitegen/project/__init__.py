"""Read a project folder: its format, its tables, its settings, and the survey they make."""
