"""What a rendered photo costs: ``python -m tests.render.speed [--size small] [--seeds 2]``.

CPU seconds of this process for each floor. The first photo is told apart: it opens the tables and
the turf that all later ones share, and where they were never drawn it draws them.
"""

import argparse
import time

from tests.render.photo import render_photo
from tests.render.scene import draw_board, draw_photo

FLOORS = ("concrete", "plywood", "grass", "asphalt")


def seconds(seed: int, floor: str, size: str) -> float:
    """Return the CPU seconds that one photo takes."""
    board = draw_board(seed, length_mm=2000 if size == "full" else 1250)
    photo = draw_photo(seed, board, size=size, floor=floor, light="shade")  # type: ignore[arg-type]
    start = time.process_time()
    render_photo(board, photo)
    return time.process_time() - start


def main() -> None:
    """Print the CPU seconds of each floor."""
    parser = argparse.ArgumentParser(description="Time the renderer.")
    parser.add_argument("--size", default="small", choices=("small", "medium", "large", "full"))
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--floors", nargs="+", default=FLOORS, choices=FLOORS)
    arguments = parser.parse_args()
    for floor in arguments.floors:
        first = seconds(3000, floor, "small")
        if floor == arguments.floors[0]:
            print(f"{floor:9} small  {first:5.2f} s CPU, the first of this process", flush=True)
        spent = [seconds(3001 + k, floor, arguments.size) for k in range(arguments.seeds)]
        print(
            f"{floor:9} {arguments.size:6} {min(spent):5.2f} to {max(spent):5.2f} s CPU", flush=True
        )


if __name__ == "__main__":
    main()
