"""What a hand does to a design: its text edited and read, and the drawing that it takes hold of."""
