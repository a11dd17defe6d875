"""landmarks -> track: the subject's points, mended, on a uniform clock, and from where they were filmed."""
