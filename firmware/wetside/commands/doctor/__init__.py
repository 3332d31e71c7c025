"""``wetside doctor``: what is connected, what is missing, how to mend it."""
