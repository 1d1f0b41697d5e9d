"""A study file to start from: one sweep that runs, every other key explained beside it."""

from __future__ import annotations

from motor.base.media import toml_text
from motor.study.rules import RULES
from motor.study.target import GOALS

__all__ = ["study_starter"]

TEXT = """\
# A study: one question to many designs, each the design below with some values changed.
# Values are named as in the design file, with dots: coil.winding_height, geometry.gap_depth,
# materials.magnet, coil.wire.bare_diameter, temperature, rings as geometry.rings.NAME.height;
# factors.remanence scales a magnet's remanence.  `motor derivatives DESIGN` lists them all.
# Lines that begin with "# " and hold a key are examples: take the mark away to use them.

name = "my study"
design = {design}   # from this file's folder

# What follows from a change, in this order.  There are
# {rules}.
# rules = ["keep_resistance", "keep_clearance"]

# [ties]                                          # follower = leader
# "coil.former_below" = "coil.former_above"

# A study holds one of three: a sweep, a target, tolerances.

# 1. A sweep.  Blocks are combined, every one with every other.
[[sweep]]
"coil.winding_height" = {{ from = "9 mm", to = "15 mm", steps = 4 }}
[[sweep]]
"coil.rest_position" = ["0 mm", "0.5 mm"]         # or a list; several lists in a block go in pairs
# [[sweep]]                                       # or a latin hypercube: this many designs, even
# hypercube = 40                                  # over all ranges of the block
# seed = 1                                        # of its random numbers
# "coil.former_below" = {{ from = "0 mm", to = "2 mm" }}
# "coil.travel_margin" = {{ from = "0.5 mm", to = "1 mm" }}

# 2. A target: the motor that meets it with the least of something.
# [target]                                        # any figure of summary.json, _least or _most
# bl_least = "4 T*m"
# stroke_least = "3 mm"
# motor_mass_most = "1.5 kg"
# minimise = "mass"                               # {goals}; or by weights:
# # minimise = {{ mass = 1.0, cost = 0.5 }}
# # maximise = "stroke"                            # instead: any figure of summary.json
# # minimise = "bl_deviation_in_band"              # or as little as possible of one
# band = "3 mm"                                   # to either side, where Bl(x) is to be flat
# [free]                                          # what may change, and how far
# "coil.winding_height" = {{ from = "9 mm", to = "15 mm" }}
# [choices]                                       # what may be one of a few
# "materials.steel" = ["low-carbon-a", "low-carbon-b"]
# [[contour]]                                     # points of a part's outline that may move
# part = "yoke"
# along = [4, 5]                                  # new ones on the edge between these two of it
# count = 6                                       # so many; or, in place of both:
# # points = [5, 6, 7]                            # its own ones from 1, one after the other
# reach = "2 mm"                                  # of each coordinate to either side
# cuts = "straight"                               # or "square": along axis and radius only
# least_radius = "0.3 mm"                         # of the corners between the cuts
# least_wall = "2 mm"                             # of the part behind them
# least_clearance = "1 mm"                        # from them to other parts
# coil_clearance = "0.3 mm"                       # from them to the coil, up to
# coil_way = "8 mm"                               # so far from rest; as [stroke] band if left out

# 3. Tolerances: motors drawn at random, and how many are inside limits.
# [tolerances]                                    # largest deviation to either side
# power = 6                                       # 2^6 motors
# seed = 0
# "factors.remanence" = 0.03                      # of 1
# "coil.rest_position" = {{ width = "0.2 mm", shape = "normal" }}   # or "uniform"
# "coil.winding_height" = {{ width = "0.1 mm", shape = "normal" }}
# [lots.magnets]                                  # a shift of all motors of a lot, beside these;
# shape = "normal"                                # any number of lots
# "factors.remanence" = 0.02                      # one draw shifts all of its parameters, those
# "coil.travel_margin" = "-0.1 mm"                # below 0 the other way
# [[correlations]]                                # of two tolerances, any number of pairs
# between = ["coil.rest_position", "coil.winding_height"]
# coefficient = 0.6                               # -1 to 1
# [limits]                                        # columns of results.csv, in the column's unit
# bl_at_rest_Tm = {{ least = 4.0 }}
# usable_stroke_mm = {{ least = 2.0, deviation = 0.05, guard = 2 }} # tested with a normal error,
#                                                 # the limit drawn in by two deviations of it

# With any of them: the margin to demagnetisation is also taken at these.
# [measure]
# coldest = "-20 degC"
# hottest = "80 degC"
# current = "2 A"
# off_centre = true                               # radial pull of parts off centre, N/mm
# assembly = ["top_plate"]                        # force while these are put on; takes longer
# holding = "50 N"                                # and the distance within which it passes this
# inductance_at = "1 kHz"                         # inductance, its swing over the stroke, losses
# coil_current = "4 A"                            # peak: Bl under it, its steady pull
# tone_at = "100 Hz"                              # distortion of a tone, some seconds a design
# tone_voltage = "8 V"
"""


def study_starter(design: str) -> str:
    """Return a study of a design file: a sweep that runs, and all other keys as comments."""
    rules = ", ".join(RULES)
    return TEXT.format(design=toml_text(design), rules=rules, goals=" or ".join(GOALS))
