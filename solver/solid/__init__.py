"""Bodies anywhere, in 3-D: `--solver solid`."""
