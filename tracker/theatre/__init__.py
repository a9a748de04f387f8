"""The circulating assistant's room: the session and the live screen."""
