"""What the shop and the customer hold."""
