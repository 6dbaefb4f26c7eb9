"""Pages of one point, on the site and as printed sheets."""
