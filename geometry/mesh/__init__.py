"""Meshes by gmsh, and nothing else."""
