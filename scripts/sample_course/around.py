"""What lies around the holes of Merrowby Links: paths, trees, water, neighbours, control. Local metres."""

from __future__ import annotations

from sample_course.shapes import Blob, Frame

#: name, kind, width, points
PATHS = (
    (
        "Strand path",
        "public",
        1.8,
        (
            (472.0, 340.0),
            (435.0, 353.0),
            (404.0, 371.0),
            (382.0, 378.0),
            (346.0, 379.0),
            (314.0, 367.0),
            (280.0, 332.0),
            (248.0, 292.0),
            (212.0, 246.0),
            (178.0, 206.0),
            (126.0, 168.0),
            (75.0, 160.0),
            (30.0, 146.0),
            (8.0, 142.0),
        ),
    ),
    (
        "cart path, hole 1",
        "cart",
        2.4,
        (
            (138.3, 67.9),
            (149.8, 98.4),
            (174.4, 180.3),
            (200.6, 236.7),
            (214.9, 295.0),
            (215.5, 355.9),
            (211.3, 412.5),
            (184.0, 450.0),
        ),
    ),
    (
        "cart path, hole 2",
        "cart",
        2.4,
        (
            (184.0, 450.0),
            (184.0, 474.0),
            (208.0, 486.0),
            (250.0, 478.0),
            (300.0, 462.0),
            (345.0, 448.0),
            (386.0, 447.0),
            (408.0, 425.0),
            (405.0, 396.0),
        ),
    ),
)

#: x, y, height, crown, clear height, name; a row with see-through crown ends in True
TREES = (
    (222.0, 268.0, 4.5, 5.0, 1.2, "wind-bent thorn by the burn", False),
    (229.0, 279.0, 3.8, 4.2, 1.0, "wind-bent thorn", False),
    (209.0, 204.0, 4.0, 4.6, 1.1, "wind-bent thorn", False),
    (396.0, 208.0, 5.0, 5.2, 1.5, "sycamore at the corner", False),
    (398.0, 190.0, 5.5, 5.6, 1.5, "sycamore at the corner", False),
    (118.0, 470.0, 4.2, 4.4, 1.0, "bare elder", True),
)
#: name, outline, height
THICKET = (
    "blackthorn thicket",
    Blob(Frame(304.0, 196.0, 40.0), 42.0, 20.0, ((2, 0.08, 20.0), (5, 0.05, 0.0))),
    3.5,
)

#: name, outline, level of the water
POOL = ("Rush Pool", Blob(Frame(283.0, 402.0, 70.0), 22.0, 13.0, ((2, 0.06, 50.0), (3, 0.08, 10.0))), 6.6)

#: edge of the course: a ring with a bay round the house
BOUNDARY = (
    (10.0, -50.0),
    (400.0, -50.0),
    (470.0, 20.0),
    (470.0, 150.0),
    (408.0, 158.0),
    (404.0, 196.0),
    (409.0, 246.0),
    (470.0, 256.0),
    (470.0, 510.0),
    (10.0, 510.0),
)
#: name, frame, length, width, height, level of the ground it stands on
HOUSE = ("Sedge Cottage", Frame(428.0, 203.0, 82.0), 13.0, 8.5, 6.5, 9.3)
SHELTER = ("starter's hut", Frame(84.0, 70.0, 10.0), 4.0, 3.0, 3.0, 10.3)

#: name, x, y, and what a check measured differently: east, north, up
CONTROL = (
    ("MB1", 30.0, 40.0, 0.004, -0.007, 0.005),
    ("MB2", 238.0, 178.0, -0.006, 0.003, -0.008),
    ("MB3", 440.0, 470.0, 0.009, 0.005, 0.003),
    ("MB4", 60.0, 480.0, -0.003, -0.004, -0.006),
)
