"""What a command computes, without a word of it."""
