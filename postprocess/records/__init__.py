"""What was found, as frozen records."""
