"""Formulas of fluid power: pure functions, SI in, SI out.

``cylinder``  areas, time, flow, force
``holding``   a load held by oil: leaks at both ends and past the seal, drift and leakage, cooling
``pump``      flow, displacement under a torque limit, power
``orifice``   orifices, narrow clearances, and what pressure a flow holds against both
``valve``     direct relief valves between cracking and full flow
``oil``       viscosity by temperature and viscosity index
``travel``    speed of tracks, ground and swing, sideways veer of a tracked machine

Each is called by the model, the estimates or the computed figures; where those work in shares of one pump's flow and
of a relief's setting, "unit" below is the unit of the shares.

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
