"""What happened, kept through a power cut: one SQLite file, one writer, many readers."""
