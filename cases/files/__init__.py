"""Files of a person, read and written."""
