"""Figures of the four studies."""
