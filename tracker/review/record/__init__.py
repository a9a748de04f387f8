"""The timed case record: one structure, and one module for each format that renders it."""
