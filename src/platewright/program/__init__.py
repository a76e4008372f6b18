"""Dialects, the writer, and the interpreter."""
