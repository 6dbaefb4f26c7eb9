"""The kit's maps, labels, stake-out files and pre-filled tables: seams that the kit's composition calls."""
