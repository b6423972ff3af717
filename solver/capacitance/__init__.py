"""Electric fields of a winding: between its wires, and to the metal round it."""
