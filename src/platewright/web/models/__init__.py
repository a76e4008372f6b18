"""What goes over the API, one file a group of routes."""
