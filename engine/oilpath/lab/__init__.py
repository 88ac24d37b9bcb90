"""Tools to judge the ranking: simulation, scoring, an independent second opinion. The flow never imports them."""
