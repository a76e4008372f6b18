"""What edges keep to one another: candidates, exact rules, and which of them the points support."""
