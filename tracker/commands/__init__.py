"""What each command of the door does: one module a verb, imported only when it runs."""
