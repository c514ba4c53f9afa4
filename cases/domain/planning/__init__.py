"""Who does what when: the problem, the plan, and an independent check of it.

Pure: minutes in, minutes out. ``problem`` is what is known, ``dispatch`` answers at once,
``improve`` goes on from there, ``verify`` shares nothing with either but the words of the problem.
"""
