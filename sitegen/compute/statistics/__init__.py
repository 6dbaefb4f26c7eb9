"""Numbers alone: order, intervals, fits, kriging, ranks, rounding."""
