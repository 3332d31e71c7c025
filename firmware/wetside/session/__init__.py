"""One tank through a sheet: events, the state machine as a table, sheets."""
