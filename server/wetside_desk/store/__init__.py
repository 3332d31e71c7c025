"""What the desk itself keeps: accounts, notes, labels, preferences, the audit list."""
