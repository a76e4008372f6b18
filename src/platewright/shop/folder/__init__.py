"""The shop's folder on disk: database, files, backups, paired devices."""
