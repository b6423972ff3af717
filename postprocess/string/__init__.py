"""A string in the fields: magnetisation, linkage, pull."""
