"""From a layout to ordered cuts."""
