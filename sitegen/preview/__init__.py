"""Show the site of a folder while it is being written: in memory, on this machine, findings included."""
