"""The simulated sink: bath physics with faults, kernel files, virtual time, a student."""
