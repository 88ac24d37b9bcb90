"""One machine: its circuit as a graph, and what can be wrong with it."""
