"""Dialects as data: one TOML file each, and the schema they are held to."""
