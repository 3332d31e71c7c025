"""wetside: tempering, timing and logging at the sink of a teaching darkroom."""

__version__ = "0.1.0"
