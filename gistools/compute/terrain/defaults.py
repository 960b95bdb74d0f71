"""Heights, distances and choices the steps of the ground start from; declared apart so that help is quick."""

from __future__ import annotations

from gistools.base.settings import default

EYE_M = default("eye_m")  # assumption: a standing adult
STICK_M = default(
    "stick_m"
)  # flagstick, least height recommended (7 ft): The R&A and USGA, Rules of Golf (second-hand)
#: where on the flagstick a line can be aimed, as a share of its height; the foot is the top of a ball lying
#: there
AIMS = {"foot": 0.0, "middle": 0.5, "top": 1.0}

PACE_M = 0.9144  # common practice
EDGE_PACES = 4.0  # hole to edge of the green: The R&A, Guidance on running a competition (published)
RADIUS_M = 0.9  # ground round a hole that is to be level: 0.6 to 0.9 m, same (published)
CRITICAL_M = 3.0  # hole to critical ground: Lemons 2008, USGA Green Section Record 46(4) (second-hand)
#: survey layers whose features can be taken as a crest: mounds, and anything drawn as a line
CRESTS = ("mounds", "shapes", "paths", "boundary", "structures", "play_lines", "burns")
