"""The station's loop: readings, estimate, forecast, session, cues, journal."""
