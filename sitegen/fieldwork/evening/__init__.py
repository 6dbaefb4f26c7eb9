"""What is open at the end of a day in the field."""
