"""Shapes of bodies that are no poles of a row: what can vary, the values on a mesh that follows."""
