"""The judge's own limits: how exact a layout has to be, and what cannot be moved any more."""

# Sizes are reckoned in tenths of a millimetre, and no saw is set closer: half of one is no fault.
TOLERANCE_MM = 0.05
# The same where shapes are drawn larger or smaller to compare them, which rounds a little more.
SLACK_MM = 0.06
# Boards that differ by no more than this make one set or panel (trade: 4/4 is "1 to 1 1/8 in").
ALIKE_THICKNESS_MM = 3.2
# The states of a part that is sawn out of its board.
SAWN = ("cut", "milled", "resting", "done")
