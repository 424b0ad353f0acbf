"""The bit patterns of the 250 markers, so that sheets can be drawn without OpenCV.

The dictionary is the one OpenCV calls DICT_4X4_250; ``tests/geometry/test_marker_codes.py``
compares the table with OpenCV's own.
"""

import numpy as np
from numpy.typing import NDArray

# One number a marker: 16 bits, row by row from the top left, 1 = white.
_CODES = """
    B532 0F9A 332D 9946 549E 79CD 9E2E C4F2 FEDA CF56
    F991 11A7 0EB7 2A0F 24B1 263E 4665 6600 6C5E 76AF
    868B B02B CCD5 DD82 FE47 9471 ACE4 A554 2123 346F
    4415 57B2 9ECF F0CB 08AE 0929 1875 04FF 0DF6 1C5A
    1718 2A28 328C 38B2 24E8 2EEB 2D3F 4B64 502E 5013
    5194 5568 5D41 5F97 6801 6867 6124 61E9 6B12 6FE5
    67DF 7E1B 80A0 8344 8BA2 937A 846C 852A 859C 9C89
    9FA1 BB7C BC04 B65B BFC8 B7AB CA1F C962 D958 D3D5
    CC98 C7A0 C537 E95D F925 FBBB EE2A F74D 3575 8AAD
    7617 0ACF 064B 2DC1 49D8 43F4 4F36 4FD3 69E4 70C7
    7A6E B4EA ED4F FCE7 FEA6 0025 0043 0A88 0A86 026F
    001C 0097 0837 0A31 09C6 0B01 09FB 0B58 1082 182D
    1078 1073 1274 12B1 1AF9 1306 0C0E 0CF1 0433 0C9F
    0EF2 0EFD 074C 0FA4 072F 05B5 0F91 07DB 1EE4 1439
    1D80 15C8 1F8B 15BA 1DB1 2080 28E9 22A2 2853 2AF0
    22F7 2940 2146 29B9 2B9C 2BB2 38CA 382E 3007 38E7
    3A49 3A65 325D 3B88 391D 3BD3 2647 2780 2FAA 2D14
    25DE 2553 2F77 3448 3CA8 3C41 340D 34FB 369A 3DE0
    356A 3D09 3DED 3FC4 3F6C 37CE 3D5C 3D76 37B0 3F17
    3FFF 48E5 4268 4A2D 4160 4951 41DD 4BDF 584F 5A48
    5816 505D 5AFA 5AB5 5123 5B8A 5919 5135 4C69 46C1
    4E0B 445F 4E59 4D83 4D7D 47D8 4773 5C85 5E44 562B
    5CBB 55C3 5F6E 5FEB 5D12 555E 6270 6215 61C2 6B20
    6345 6B5C 6B5B 780C 7ACF 787F 7980 71E5 7174 79B6
    71D3 7B33 646A 66A8 6EA7 6E91 6522 6DCB 678D 6D31
"""
CODES: tuple[int, ...] = tuple(int(word, 16) for word in _CODES.split())
BITS = 4
MODULES = BITS + 2


def marker_modules(marker_id: int) -> NDArray[np.bool_]:
    """Return the modules of a marker, shape (6, 6), True = white, first row at the top."""
    if not 0 <= marker_id < len(CODES):
        raise ValueError(f"markers are numbered 0 to {len(CODES) - 1}, got {marker_id}")
    modules = np.zeros((MODULES, MODULES), dtype=np.bool_)
    bits = [bool(CODES[marker_id] >> shift & 1) for shift in range(BITS * BITS - 1, -1, -1)]
    modules[1:-1, 1:-1] = np.array(bits).reshape(BITS, BITS)
    return modules
