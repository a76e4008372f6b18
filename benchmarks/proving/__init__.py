"""The trial of the proof against the witness: jobs drawn by number, single changes to their programs, and the counts."""
