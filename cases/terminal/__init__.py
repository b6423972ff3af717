"""What goes between a person and a command."""
