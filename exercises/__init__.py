"""What is heard: loops, hidden problems, and the measures by which they are made fair.

Pure functions on arrays. Nothing here knows a clock, a screen, a database or a learner.
"""
