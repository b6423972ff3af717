"""One file a command: its run, its tables."""
