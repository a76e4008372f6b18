"""Slow work in child processes: progress, cancel, replayable events."""
