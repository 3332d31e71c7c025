"""The bell table and what follows from it, as the desk shows it."""
