"""A build whose nodes move, and the gradient back to their places."""
