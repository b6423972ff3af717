"""Figures by matplotlib."""
