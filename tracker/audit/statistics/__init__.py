"""Plain numbers in, frozen results out: every one carries its n and says when there are too few."""
