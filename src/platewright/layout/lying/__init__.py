"""How pieces lie: on the table's slats, and how much heat their cuts bring together. Soft terms, off unless asked for."""
