"""Tables shared by several stages, as TOML (see each file for its sources)."""
