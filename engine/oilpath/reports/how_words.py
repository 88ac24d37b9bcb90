"""What the words of a posture and a place say below a picture of how."""

from __future__ import annotations

from typing import Final

ENGINE: Final = {"off": "Engine off", "low-idle": "Engine at low idle", "test-speed": "Engine at test speed"}
MOVES: Final = {
    "nothing": "nothing moves", "function": "the function moves or is held", "swing": "the upper structure swings",
    "travel": "the machine travels", "raised-track": "the raised track runs", "steering": "it is steered",
}  # fmt: skip
TRACKS: Final = {"one-raised": "one track raised", "blocked": "tracks blocked", "chocked": "tracks chocked"}
CLEAR: Final = {
    "around": "Nobody else close to the machine", "reach": "Nobody within reach of the tool",
    "swing-circle": "Nobody in the whole swing circle", "lane": "Nobody in the lane or beside it",
    "beside-tracks": "Nobody beside the tracks", "below": "Nobody below the machine on the slope",
}  # fmt: skip
BY: Final = {
    "eye": "look", "ear": "listen", "gauge": "gauge", "tape": "tape", "stopwatch": "stopwatch", "mark": "mark",
    "jug": "measuring jug", "meter": "meter", "thermometer": "thermometer", "reader": "reader", "hand": "by hand",
}  # fmt: skip
ON: Final = {"ground": "on the ground", "seat": "from the seat", "display": "on the display"}
PORTS: Final = {"cap": "cap end", "rod": "rod end"}
