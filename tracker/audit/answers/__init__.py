"""Answers ready for a report: a figure, what it is of, how far it can be trusted, or why it is not given."""
