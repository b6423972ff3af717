"""Results folders, JSON documents, CSV tables."""
