"""Placing parts on plates."""
