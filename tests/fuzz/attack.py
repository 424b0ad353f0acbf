"""Read damaged files in a process of their own: every crash, hang or hoard is caught and kept."""

import faulthandler
import hashlib
import multiprocessing
import random
import resource
import signal
import tempfile
import time
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from scanner.errors import ScannerError
from tests.fuzz.borders import BORDERS, Border

MOST_SECONDS = 10
_LAST_SECONDS = 30
MOST_MEMORY_KB = 2_000_000
_BY_NAME = {border.name: border for border in BORDERS}


class _HungError(BaseException):
    """Reading took too long; no ``except Exception`` may swallow it."""


@dataclass
class Result:
    """What became of a border under attack."""

    border: str
    tried: int = 0
    refused: int = 0
    faults: list[tuple[bytes, str]] = field(default_factory=list)
    cpu_seconds: float = 0.0
    slowest_s: float = 0.0
    most_memory_kb: int = 0


def joined(results: Sequence[Result]) -> Result:
    """Return what became of one border in several attacks."""
    return Result(
        results[0].border,
        sum(r.tried for r in results),
        sum(r.refused for r in results),
        [fault for r in results for fault in r.faults],
        sum(r.cpu_seconds for r in results),
        max(r.slowest_s for r in results),
        max(r.most_memory_kb for r in results),
    )


def read_or_refuse(border: Border, content: bytes, folder: Path) -> bool:
    """Read a file as its border does; True if it was refused in a sentence, else it was read."""
    path = folder / f"damaged{border.suffix}"
    path.write_bytes(content)
    try:
        border.read(path)
    except ScannerError as problem:
        sentence = str(problem)
        assert sentence.strip() and "Traceback" not in sentence
        return True
    return False


def damaged(border: Border, seeds: list[bytes], rng: random.Random) -> bytes:
    """Return a good file of the border, damaged once to three times."""
    content = rng.choice(seeds)
    for _ in range(rng.choice((1, 1, 2, 3))):
        content = rng.choice(border.damages)(content, rng)
    return content


def attack(
    name: str,
    seed: object,
    seconds: float,
    most: int,
    place: Path,
    answer: "Callable[[Result], None]",
) -> None:
    """Attack one border for so many CPU seconds or files; runs in a process of its own."""
    border = _BY_NAME[name]
    seeds = border.seeds()
    rng = random.Random(f"{name} {seed}")
    result = Result(name)
    signal.signal(signal.SIGALRM, _hung)
    begun = time.process_time()
    while seeds and result.tried < most and time.process_time() - begun < seconds:
        content = damaged(border, seeds, rng)
        result.tried += 1
        started = time.monotonic()
        signal.alarm(MOST_SECONDS)
        # The alarm waits for compiled code that never comes back; this ends the process.
        faulthandler.dump_traceback_later(_LAST_SECONDS, exit=True)
        try:
            result.refused += read_or_refuse(border, content, place)
        except (Exception, _HungError):
            result.faults.append((content, traceback.format_exc(limit=-6)))
        finally:
            signal.alarm(0)
            faulthandler.cancel_dump_traceback_later()
        result.slowest_s = max(result.slowest_s, time.monotonic() - started)
        result.most_memory_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        if result.most_memory_kb > MOST_MEMORY_KB:
            result.faults.append((content, "took more than 2 GB"))
            break
    result.cpu_seconds = time.process_time() - begun
    answer(result)


def _hung(*_: object) -> None:
    raise _HungError(f"longer than {MOST_SECONDS} s")


def attack_apart(name: str, seed: object, seconds: float, most: int) -> Result:
    """Attack a border in another process, so that even a segmentation fault is only a finding."""
    # A server with the modules loaded forks each: an interpreter anew takes a second of CPU.
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([__name__])
    here, there = context.Pipe(duplex=False)
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        place = Path(folder)
        process = context.Process(
            target=attack, args=(name, seed, seconds, most, place, there.send)
        )
        process.start()
        there.close()
        try:
            result: Result = here.recv()
            process.join()
        except EOFError:
            process.join()
            left = [path.read_bytes() for path in place.glob(f"damaged{_BY_NAME[name].suffix}")]
            said = f"the process died with {process.exitcode}, or hung in compiled code"
            result = Result(name, 1, faults=[(content, said) for content in left or [b""]])
    return result


def keep(result: Result, folder: Path) -> list[Path]:
    """Write the files that made faults, with what they did beside them."""
    kept = []
    for content, said in result.faults:
        name = f"{result.border}-{hashlib.sha256(content).hexdigest()[:10]}"
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / (name + _BY_NAME[result.border].suffix)
        path.write_bytes(content)
        path.with_suffix(".txt").write_text(said)
        kept.append(path)
    return kept
