"""The surgeon's room: the timed case record and what is made of it."""
