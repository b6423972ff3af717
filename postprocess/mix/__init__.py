"""Several pickups on one cable."""
