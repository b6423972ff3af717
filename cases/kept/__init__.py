"""What is remembered, in memory and on disk."""
