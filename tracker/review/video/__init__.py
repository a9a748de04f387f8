"""The recording found by the log: alignment, chapters, captions and a cut, each written in open formats."""
