"""How much a thin dark line looks like a crack: a logistic model over its measures."""

from scanner.vision.flaws.spot_model import Model

# By tests/bench/fit_flaws.py, on the rendered faces that `spot_model` names.
CRACK = Model(
    -7.832,
    (
        ("log_length", 3.541, 0.8476, 0.958, -1.068),
        ("contrast", 3.066, 0.6894, 0.673, 0.126),
        ("contrast_peak", 3.765, 0.8572, -0.438, 0.090),
        ("drop", 0.1312, 0.07074, 0.455, -0.355),
        ("drop_peak", 0.1782, 0.08684, 0.761, 0.297),
        ("width", 2.083, 0.7344, -1.317, -0.027),
        ("at_end", 0, 0.001, 0.125, 0.368),
        ("darkness", 0.158, 0.112, 0.282, 0.111),
        ("crowd", 0.04283, 0.01911, 0.150, -0.122),
        ("waviness", 0.1109, 0.04808, 0.575, -0.405),
        ("depth", 4.063, 1.585, 0.098, -0.166),
        ("fades", 1.205, 1.218, 0.266, 0.082),
        ("two_sided", 3.305, 1.613, -0.311, 0.240),
        ("browner", 0.06141, 0.04084, -0.216, -0.351),
        ("unbroken", 1, 0.02091, 0.251, 0.019),
        ("aslant", 0.009976, 0.0136, 0.427, -0.132),
        ("stands_out", -1, 0.63, -0.321, 0.437),
    ),
    scale=0.856,
    shift=-0.766,
)
