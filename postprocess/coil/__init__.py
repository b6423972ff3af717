"""Coils at their terminals: winding, circuit, hum."""
