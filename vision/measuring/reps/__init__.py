"""signals -> repetitions: the set in a clip, each repetition of it, and when its phases begin and end."""
