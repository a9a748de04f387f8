"""Events as lines of text on a disk that may fail, and the folder they live in."""
