"""Long bars, by their section: `--solver plane`."""
