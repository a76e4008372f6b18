"""Platewright: from a template, a worn part or three numbers to a proven cut program."""

__version__ = "0.1.0"
