"""`make bench`: times, sizes and errors of this machine."""
