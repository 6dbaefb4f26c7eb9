"""Make an archive of a project and its report, and prove later that it is whole."""
