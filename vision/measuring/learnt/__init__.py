"""What was learnt from rendered sets of exact truth: what a measure is off by, and how sure it is."""
