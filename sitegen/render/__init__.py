"""Write the files: site, web map, PDF, exports. These modules know the report, not surveys."""
