"""From the text of a case file to a checked case."""
