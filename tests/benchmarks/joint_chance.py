"""Processor time of the chance of all requirements at once: `python tests/benchmarks/joint_chance.py`."""

from __future__ import annotations

import time
from pathlib import Path
from statistics import median

import rationlp
from rationlp.rations.solve.joint_chance import chance_of_all

DEMO = Path(__file__).parents[2] / "demo" / "stillwater_bend"


def main() -> None:
    made = list(rationlp.open_farm(DEMO).rations())
    times = []
    for one in made:
        begun = time.process_time()
        chance_of_all(one.formula, one.answer.amounts)
        times.append(1000 * (time.process_time() - begun))
    print(f"{len(times)} rations, each asked once: median {median(times):.2f} ms, slowest {max(times):.2f} ms")
    times = []
    for one in made:
        begun = time.process_time()
        chance_of_all(one.formula, one.answer.amounts)
        times.append(1000 * (time.process_time() - begun))
    print(f"asked again: median {median(times):.2f} ms, slowest {max(times):.2f} ms")


if __name__ == "__main__":
    main()
