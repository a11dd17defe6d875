"""What the terminal offers, one module a command."""
