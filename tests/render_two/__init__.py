"""A second renderer of boards: another model of wood and other code than `tests.render`.

Its author had not read the first one. Nothing in the program may be tuned on its pictures: they
tell how well flaws are found on wood of another making.
"""
