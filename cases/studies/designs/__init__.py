"""One design of a study evaluated; the table of a study."""
