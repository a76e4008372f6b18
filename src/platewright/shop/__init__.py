"""The shop's folder: database, files, revisions."""
