"""Clockhour: a timed record of vitreoretinal theatre, ticked step by step against a protocol file."""

__version__ = "0.1.0"
