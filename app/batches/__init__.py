"""Many clips in one go."""
