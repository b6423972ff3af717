"""Solids of gmsh's OCC kernel: forms made, measured, compared and shown; files read."""
