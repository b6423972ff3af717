"""The string's half of a changing shape."""
