"""clip -> frames -> landmarks: everything that needs pictures."""
