"""The parts of the board, each drawn by itself: pure functions from what the scene holds to lines."""
