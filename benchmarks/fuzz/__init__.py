"""Spoiled inputs and programs by the thousand."""
