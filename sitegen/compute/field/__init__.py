"""The field work: exposure, which sampler stands for a point, completeness, weather."""
