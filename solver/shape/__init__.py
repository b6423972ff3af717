"""A pole that changes its shape, and the gradient back."""
