"""What the plan asks for and could find, before any sampler is in the ground."""
