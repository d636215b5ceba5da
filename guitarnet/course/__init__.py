"""What the lessons need: answers checked, and each lesson's exercises.

A lesson takes its exercises from the module of its own name, so that the computed answer stands
neither in the lesson nor in what it shows:

>>> import guitarnet as gn
>>> from guitarnet.course import tapers as exercise
>>> gn.check(None, exercise.mark_for_half).right
False
"""
