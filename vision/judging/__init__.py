"""repetitions -> findings: checks measure, limits are kept or not, and only findings says so."""
