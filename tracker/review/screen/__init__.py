"""The review screen: the timeline of a case after its end, what differed, and the debrief said over it."""
