"""Sample clips of rendered sets, and the renderer that makes them."""
