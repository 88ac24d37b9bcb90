"""Practice: a simulated machine with something hidden in it, worked on step by step.

No sentences and no files: who shows the steps says them. `hidden` alone knows the laboratory's simulator.
"""
