"""Text and pictures of the shop manual."""
