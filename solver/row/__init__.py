"""Poles of revolution in a row: `--solver row`."""
