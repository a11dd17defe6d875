"""Clips are checked in processes of their own: the queue, what one of them does, and who starts them."""
