"""Finite elements on a section, of a pole or of bars."""
