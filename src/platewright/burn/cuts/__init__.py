"""One cut: its loop, leads, tabs, overburn and joints with others."""
