"""Forms: which fields the page shows, and how what is typed is read."""
