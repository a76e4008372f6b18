"""Where edges of an outline begin and end, and second thoughts about them."""
