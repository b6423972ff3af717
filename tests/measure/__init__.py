"""Scripts that measure and print tables: `python tests/run.py settings`."""
