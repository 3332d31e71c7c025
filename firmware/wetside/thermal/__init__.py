"""Where the developer is, when it will be ready, and what to do about it."""
