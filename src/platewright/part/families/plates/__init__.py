"""Families of plates, brackets, lugs and straps."""
