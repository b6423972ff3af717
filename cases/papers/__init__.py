"""What is written of a pickup to take along: the report, the winding in words."""
