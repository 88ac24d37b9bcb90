"""The founding circuit and machines of it, as the tests of the circuit model have them."""

from tests.physics.conftest import MachineOf, circuit, knowledge, machine, machine_of, model

__all__ = ["MachineOf", "circuit", "knowledge", "machine", "machine_of", "model"]
