"""Formulas of fluid power: pure functions, SI in, SI out.

``cylinder``      areas, speed, time, flow, force, regeneration
``holding``       a load held by oil: locking past a leaking seal, drift and leakage, cooling
``pump``          pumps and motors: flow, torque, efficiencies, power
``displacement``  displacement from the geometry of gear, vane and axial piston machines
``orifice``       sharp-edged orifices, narrow clearances, laminar pipes, Reynolds number
``valve``         flow coefficient, metering in and out, direct relief valves
``oil``           viscosity by temperature, viscosity index, ISO grades, density, expansion, heating
``stiffness``     compression, locked oil that warms, bulk modulus with air and walls
``travel``        speed of tracks, ground and swing, sideways veer of a tracked machine
``cleanliness``   particle counts: ISO 4406 code, AS4059 classes

Words for the fault codes of the open vehicle-network standard are in ``oilpath.codes``.

A *number* in these docstrings is a float or a numpy array of floats; arrays broadcast, floats stay
plain floats (numpy is imported only when an array comes in). Type checkers want all numbers of one
call to be floats or all to be arrays. Every argument and result has its unit in [brackets], ``[-]``
for none. Units: m, m², m³, s, Pa, N, N·m, W, K, kg/m³; speed of rotation in rev/s and displacement
in m³/rev, because that is how machines are described. An argument outside its range raises
``ValueError`` with a sentence that names it; nothing is silently extrapolated unless the docstring
says so.

This package imports nothing else of oilpath.
"""
