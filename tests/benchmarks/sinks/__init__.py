"""Sinks with faults: on virtual time in one process, or beside the real station's process."""
