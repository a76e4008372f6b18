"""The HTTP API and the built page; importing this package imports no web library (its modules do)."""
