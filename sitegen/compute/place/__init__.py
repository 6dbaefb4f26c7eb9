"""Where points lie: systems, distances, neighbours, the picture under them."""
