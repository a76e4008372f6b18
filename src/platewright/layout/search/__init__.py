"""Pressing a legal layout together: guided local search on exact forbidden regions."""
