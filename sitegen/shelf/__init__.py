"""A page over many archives: which surveys are kept where, of what, and when each was last verified."""
