"""What `stringflux tolerance` does."""
