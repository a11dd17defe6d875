"""What vision and app both speak: exercise definitions, domain types, errors, the report."""
