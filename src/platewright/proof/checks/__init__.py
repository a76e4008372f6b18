"""What the proof asks of a program, one file a subject."""
