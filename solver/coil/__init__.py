"""Coils in air, in closed form."""
