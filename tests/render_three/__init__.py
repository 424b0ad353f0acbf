"""Flat faces of boards by a third hand, drawn with their truth, to learn cracks from.

Its author had read neither `tests.render` nor `tests.render_two`. `face.draw_face` is the front
door; the other modules stand in the order in which a face is drawn: `fields` (noise), `species`,
`grain`, `wood`, `knots`, `spots`, `courses`, `cracks`, `crack_paint`, `twins`, `surface`, `ground`,
`light`, `photo`. Everything is painted on a fine canvas of linear light, `BASE_MM` a pixel, and
photographed once at the end.
"""

# Fine enough for the thinnest crack that a photograph shows, coarse enough for a second a face.
BASE_MM = 0.25
FINAL_MM = 0.5
