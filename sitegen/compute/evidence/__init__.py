"""What statements rest on: bases, worked examples, outside checks, differences of revisions."""
