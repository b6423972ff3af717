"""A toothed wheel that turns past a sensor."""
