"""The bench: a simulated sink, the station and the desk in one command."""
