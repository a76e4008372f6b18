"""HTTP API and the page."""
