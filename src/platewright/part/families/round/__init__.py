"""Families that are round or have a bolt circle."""
