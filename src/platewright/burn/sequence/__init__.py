"""The order of the cuts and the travel between them."""
