"""Write data files."""
