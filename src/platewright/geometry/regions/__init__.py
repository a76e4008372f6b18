"""Areas: chained, joined, offset, edited and checked."""
