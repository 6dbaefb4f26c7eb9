"""Where things lie: coordinate systems, and shapes and positions from files of several formats."""
