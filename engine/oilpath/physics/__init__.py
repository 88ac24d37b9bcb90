"""The circuit of one machine: as a graph (`graph`) and as a steady-state model of its readings (`model`)."""
