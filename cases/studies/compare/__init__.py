"""What `stringflux compare` does."""
