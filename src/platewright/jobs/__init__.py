"""Slow work in child processes."""
