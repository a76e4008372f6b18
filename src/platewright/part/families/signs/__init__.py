"""Families with letters cut out of them."""
