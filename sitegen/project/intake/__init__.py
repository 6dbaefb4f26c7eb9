"""From the files of the folder to its tables: as text, completed, and typed."""
