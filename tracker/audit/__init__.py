"""The department's room: durations and deviations over many cases, and lists that do not overrun."""
