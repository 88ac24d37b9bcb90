"""How a main pump's control answers when the pilot supply opens the spools only in part; figures from memory.

Positive control: the pilot pressure itself is the demand, so a low one sets the pump back. Negative control: what the
open centre still lets by is the signal, so a spool that opens in part sets the pump back a little. Load sensing: the
pump gives what the opened section takes, so a section that opens in part just passes less. A fixed pump always gives
the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from oilpath.arrays import Array
from oilpath.records import dataclass


@dataclass(frozen=True, slots=True)
class PumpControl:
    """What a kind of control makes of the pilot supply; `share` below is its pressure over that of a full stroke.

    pilot: how far the pump follows the pilot pressure (1: in proportion). centre: how far it is set back when all its
    flow passes the centre of the valve block. open_centre: whether the block has such a centre.
    """

    pilot: float
    centre: float
    open_centre: bool

    def past(self, share: Array) -> Array:
        """Share of the flow that passes the centre: its gap and the pressure behind it both close as the spool opens.

        Taken as the square of the way that is missing; from memory.
        """
        missing = 1 - share
        return missing * missing if self.open_centre else 0.0 * missing

    def demand(self, share: Array, *, centre: bool = True) -> Array:
        """Displacement asked for, as a share of the full one; without `centre` nothing flows past the valve block."""
        followed: Array = 1 - self.pilot * (1 - share)
        return followed * (1 - self.centre * self.past(share)) if centre else followed

    def passed(self, share: Array) -> Array:
        """Share of the pump's flow that goes on to the actuator."""
        return 1 - self.past(share) if self.open_centre else share


CONTROLS: Final[Mapping[str, PumpControl]] = {
    "positive": PumpControl(pilot=1.0, centre=0.0, open_centre=True),
    "negative": PumpControl(pilot=0.0, centre=0.8, open_centre=True),  # a fifth is left as the least displacement
    "fixed": PumpControl(pilot=0.0, centre=0.0, open_centre=True),  # nothing to set back; the rest flows past
    "load-sensing": PumpControl(pilot=0.0, centre=0.0, open_centre=False),
}
