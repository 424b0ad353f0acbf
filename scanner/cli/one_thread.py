"""Keep linear algebra to one thread, before numpy is loaded.

The matrices here are small: a second thread waits for the first, and spins while it waits. ``try``
cost a third more CPU and finished no sooner. Faces and boards are what goes side by side
(`app.many`). Whoever has set these variables keeps what was set.
"""

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
