"""Texts of all findings, one Markdown file a stage (see platewright.findings)."""
