"""What people type and hand in, read into checked values, and refusals in one sentence."""
