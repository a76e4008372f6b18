"""Where edges meet, on which side a point lies, how far apart things are."""
