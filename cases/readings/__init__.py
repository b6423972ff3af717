"""What `stringflux readings` computes."""
