"""Time and temperature of development."""
