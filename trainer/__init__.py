"""Who is learning: the rules of a round, the record, and the faces a learner meets."""

__version__ = "0.1.0"
