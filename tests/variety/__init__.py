"""Stick people in space doing whole sets, with everything that surrounds a set, seen without a picture.

``python -m tests.variety`` measures hundreds of them and prints one table; ``--part sealed`` does it on ways
in and out, slips and cameras that nothing was designed on.
"""
