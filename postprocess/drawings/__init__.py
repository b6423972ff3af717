"""Drawings to scale, and the picture in space."""
