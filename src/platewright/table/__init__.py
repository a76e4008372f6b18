"""Facts about the table and torch: profile, cut chart, motion."""
