import os
import subprocess
import sys

import pytest

_SAY = "import os, scanner.cli; print(os.environ['OMP_NUM_THREADS'])"


@pytest.mark.slow
@pytest.mark.parametrize(("told", "kept"), [(None, "1"), ("3", "3")])
def test_the_command_keeps_linear_algebra_to_one_thread_unless_told_otherwise(told, kept):
    env = {name: value for name, value in os.environ.items() if "NUM_THREADS" not in name}
    if told is not None:
        env["OMP_NUM_THREADS"] = told
    ran = subprocess.run([sys.executable, "-c", _SAY], env=env, capture_output=True, text=True)
    assert ran.stdout.strip() == kept, ran.stderr


@pytest.mark.slow
def test_that_is_said_before_numpy_is_loaded():
    say = (
        "import builtins, sys; load = builtins.__import__\n"
        "def look(name, *more):\n"
        "    if name == 'os' and 'scanner.cli.one_thread' in sys.modules and not seen:\n"
        "        seen.append('numpy' in sys.modules)\n"
        "    return load(name, *more)\n"
        "seen = []; builtins.__import__ = look; import scanner.cli; print(seen[0])"
    )
    ran = subprocess.run([sys.executable, "-c", say], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "False"
