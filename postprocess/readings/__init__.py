"""The bench against the prediction."""
