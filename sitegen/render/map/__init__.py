"""Write the web map and its layers."""
