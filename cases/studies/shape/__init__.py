"""What `stringflux shape` does."""
