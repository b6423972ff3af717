"""Tasks, workers and logs of a study: knows nothing of pickups."""
