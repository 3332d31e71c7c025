"""``wetside calibrate``."""
