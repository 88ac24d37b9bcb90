"""The laboratory: simulation, scoring, second opinions. The flow never imports it."""
