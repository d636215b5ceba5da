"""What the lessons need: answers checked, and each lesson's exercises.

A lesson takes its exercises from the module of its own name, so that the computed answer stands
neither in the lesson nor in what it shows:

>>> from exercises import tapers as exercise
>>> from exercises.checking import check
>>> check(None, exercise.mark_for_half).right
False
"""
