"""Drawings: records in, SVG text out."""
