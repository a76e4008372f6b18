"""The farm-gate maker of the demo: his parts, and the photograph it starts from."""
