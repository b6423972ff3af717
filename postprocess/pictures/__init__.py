"""Fields as arrays for drawing."""
