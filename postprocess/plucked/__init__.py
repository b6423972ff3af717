"""A string that moves: modes, voltage, sound."""
