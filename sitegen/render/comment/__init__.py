"""Write the copy for comments."""
