"""What people touch: the command and the page."""
