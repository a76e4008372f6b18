"""Plates: full sheets and drops, grades, gauges, weight."""
