"""Set the printed report."""
