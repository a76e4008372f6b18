"""The shop's folder: one SQLite database, content-addressed files, revisions; and the job's line of steps."""
