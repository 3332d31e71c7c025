"""The desk's interface for programs, under /v1."""
