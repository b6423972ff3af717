"""Shapes, builds and other routes to the same numbers, for several tests."""
