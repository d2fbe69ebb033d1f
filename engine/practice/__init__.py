"""Practice: rounds, and what is kept of the answers."""
