"""`make soak`: what the suite tries a few times, tried at random for as long as you like."""
