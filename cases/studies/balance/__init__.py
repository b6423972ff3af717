"""What `stringflux balance` does."""
