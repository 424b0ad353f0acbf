"""The numba loops: arrays in, arrays out, whole numbers, no wood words."""
