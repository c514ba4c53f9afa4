"""The demo lab: an invented laboratory with weeks of work behind it, made through the services.

Everything in it is invented: the laboratory, the people, the practices, the patients' codes.
Nothing here writes but the verbs of ``cases.services``, each with its own ``now``.
"""
