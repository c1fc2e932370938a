"""The questions of each notebook, one module each: what the learner is asked, and what is said to each answer.

They stand here and not on the page, so that nobody reads the answer by accident.
"""
