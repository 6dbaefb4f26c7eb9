"""Tables to download."""
