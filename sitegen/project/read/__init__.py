"""Read one file: text, cells, types, and every fault told with its row."""
