"""Runs everything side by side and writes the table and the chart."""
import importlib.metadata
import json
import os
import pathlib
import platform
import subprocess
import sys

import chart
import clouds
import collocation
import problem
import relaxed_cable
import relaxed_rod

ROOT = pathlib.Path(__file__).parents[3]
FOLDER = pathlib.Path(os.environ["NECKLOOM_PEERS"])
#: Tolerance, and nodes that the first pose begins on.
COLLOCATION = [(0.1, 7), (0.03, 7), (0.03, 11), (0.1, 15), (0.01, 21), (1e-3, 21), (1e-4, 15), (1e-6, 11)]


def bench():
    made = clouds.make(FOLDER)
    command = ["cargo", "bench", "--quiet", "--locked", "--bench", "bench", "--", "peers"]
    own = json.loads(subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout)
    start, roll = collocation.rest(1e-9)
    _, reference = collocation.sweep(1e-9, 0, start, roll)
    rows = [
        dict(who="neckloom", how=f"{row['elements']} elements", seconds=row["seconds"],
             error=problem.worst(row["radii"], reference))
        for row in own["sweep"]
    ]

    def add(who, how, seconds, radii, settings):
        rows.append(dict(who=who, how=how, seconds=seconds, error=problem.worst(radii, reference), settings=settings))
        print(who, how, f"{seconds:.2e} s", f"{rows[-1]['error']:.1e}", file=sys.stderr, flush=True)

    # Each time all of them: a machine is slow for seconds at a time.
    rounds = [[collocation.sweep(*settings, start, roll) for settings in COLLOCATION] for _ in range(7)]
    for (tolerance, nodes), runs in zip(COLLOCATION, zip(*rounds)):
        seconds, radii = min(runs, key=lambda pair: pair[0])
        add("SciPy solve_bvp", f"tol {tolerance:g}, {nodes} nodes", seconds, radii, "")
    for who, module in (("PyElastica", relaxed_rod), ("MuJoCo", relaxed_cable)):
        for how, settings in module.ROWS:
            runs = 1 if how == "plain" else 2
            seconds, steps, radii = min(
                (module.sweep(start, roll, **settings) for _ in range(runs)), key=lambda found: found[0])
            told = ", ".join(f"{name} {value:g}" for name, value in settings.items())
            add(who, how, seconds, radii, f"{told}; {steps:.0f} steps a pose")
    return dict(
        sweep=rows, distances=own["distances"], tree=clouds.nearest(made), machine=machine(),
        versions={name: importlib.metadata.version(name) for name in ("scipy", "pyelastica", "mujoco")})


def machine():
    lines = pathlib.Path("/proc/cpuinfo")
    names = [line.split(":")[1].strip() for line in lines.read_text().splitlines() if line.startswith("model name")] \
        if lines.exists() else []
    return names[0] if names else platform.machine()


if __name__ == "__main__":
    kept = FOLDER / "results.json"
    if sys.argv[1:] != ["table"]:
        kept.write_text(json.dumps(bench(), indent=1))
    results = json.loads(kept.read_text())
    (ROOT / "renders" / "beside_others.md").write_text(chart.table(results))
    (ROOT / "renders" / "beside_others.svg").write_text(chart.picture(results))
