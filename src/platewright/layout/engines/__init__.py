"""Packing engines: the built-in one and a library's."""
