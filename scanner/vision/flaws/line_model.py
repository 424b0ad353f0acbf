"""How much a thin dark line looks like a crack: a logistic model over its measures."""

from scanner.vision.flaws.spot_model import Model

# By tests/bench/fit_flaws.py, on the rendered faces that `spot_model` names.
CRACK = Model(
    -8.052,
    (
        ("log_length", 3.541, 0.8524, 0.874, -1.055),
        ("contrast", 3.076, 0.7048, 0.683, 0.037),
        ("contrast_peak", 3.785, 0.8885, -0.394, 0.145),
        ("drop", 0.1331, 0.07119, 0.484, -0.222),
        ("drop_peak", 0.1816, 0.08707, 0.633, 0.269),
        ("width", 2.114, 0.7464, -1.359, -0.071),
        ("at_end", 0, 0.001, 0.122, 0.366),
        ("darkness", 0.1617, 0.1066, 0.311, 0.121),
        ("crowd", 0.04309, 0.01902, 0.150, -0.203),
        ("waviness", 0.1113, 0.0486, 0.607, -0.367),
        ("depth", 4.124, 1.631, 0.249, -0.310),
        ("fades", 1.224, 1.273, 0.392, 0.047),
        ("two_sided", 3.366, 1.633, -0.478, 0.380),
        ("browner", 0.06176, 0.04025, -0.232, -0.303),
        ("unbroken", 1, 0.02146, 0.187, -0.009),
        ("aslant", 0.01004, 0.01392, 0.343, -0.111),
        ("stands_out", -1, 0.6303, -0.282, 0.442),
    ),
    scale=1.022,
    shift=-0.601,
)
