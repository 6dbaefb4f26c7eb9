"""What a reader may ask for beside a number: methods, sums worked out, claims, changes."""
