"""The page's screens, one a file: what is shown and asked; rules and sentences live beside, in ``app``."""
