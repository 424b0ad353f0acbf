"""Read arguments, call ``app``, print, exit code."""


def main() -> None:
    """Run the command ``bothfaces``."""
    raise SystemExit(0)
