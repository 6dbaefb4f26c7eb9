"""What maps show beyond single points: contours, falls, gaps, and what a report opens with."""
