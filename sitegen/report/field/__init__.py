"""Pages of the field record: placements, custody, weather, positions."""
