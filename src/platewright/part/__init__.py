"""A finished shape and what is done to one."""
