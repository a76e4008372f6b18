"""A camera of our own with known truth, to test the reading of photographs. It shares no code with the reader."""
