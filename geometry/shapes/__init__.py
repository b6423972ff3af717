"""What each solver sees of a pickup: poles in a row, sections, bodies."""
