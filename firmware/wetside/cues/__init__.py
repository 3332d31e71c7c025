"""Every tone and text in one catalogue, and the pictures made of them."""
