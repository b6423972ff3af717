"""The tables of a case file, as frozen records."""
