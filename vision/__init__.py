"""One clip of one set in, one report out.

clip -> frames -> landmarks -> track -> signals -> reps -> findings -> report

Each arrow is one module, a plain function over the types of ``shared.domain``.
"""
