"""The bottles in use, as the desk keeps them."""
