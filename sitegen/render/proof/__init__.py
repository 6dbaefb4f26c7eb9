"""Read every output again and compare it with the report."""
