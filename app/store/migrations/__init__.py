"""Steps from one form of the store to the next, applied when the page starts."""
