"""One clip of one set in, one report out.

clip -> frames -> landmarks -> track -> signals -> reps -> findings -> report

Each arrow is a plain function from one type of ``shared.domain`` to the next; ``pipeline.py`` calls them.
"""
