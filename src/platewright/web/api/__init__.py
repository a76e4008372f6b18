"""Routes of the HTTP interface, one file a subject."""
