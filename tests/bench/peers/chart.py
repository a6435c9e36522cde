"""The results as a Markdown table and as a chart that needs no colour."""
import math

#: Other who, and the ratio aimed at.
AIMS = [("SciPy solve_bvp", 60), ("PyElastica", 2000), ("MuJoCo", 2000)]
MARKS = {"neckloom": "disc", "SciPy solve_bvp": "square", "PyElastica": "triangle", "MuJoCo": "diamond"}
BLACK, GREY, PALE, PAPER = "#1c2733", "#5d666b", "#a9aca6", "#fcfaf3"


def time_of(seconds):
    for unit, size in (("s", 1), ("ms", 1e-3), ("µs", 1e-6)):
        if seconds >= size:
            return f"{seconds / size:.3g} {unit}"
    return f"{seconds * 1e9:.3g} ns"


def power(number):
    mantissa, exponent = f"{number:.1e}".split("e")
    return f"{mantissa}e{int(exponent)}"


def ours(results, error):
    """Our quickest row that is at least as exact."""
    exact = [row for row in results["sweep"] if row["who"] == "neckloom" and row["error"] <= error]
    return min(exact, key=lambda row: row["seconds"]) if exact else None


def kind_of(how):
    """Rows that are run alike are told together."""
    kind = how.split(",")[0]
    return f", {kind}" if kind in ("plain", "quick", "tuned") else ""


def ratios(results):
    for row in results["sweep"]:
        if row["who"] != "neckloom":
            mine = ours(results, row["error"])
            yield row, mine, row["seconds"] / mine["seconds"] if mine else None


def table(results):
    out = [
        "# Beside other programs", "",
        f"One run of `tests/bench/peers/run`, one core of {results['machine']}, times of the processor. "
        + ", ".join(f"{name} {version}" for name, version in results["versions"].items()) + ".", "",
        "## The lock sweep", "",
        "One span between two clamps, 41 angles from −40° to 40°. Error: of the tightest radius, the worst pose of all, "
        "against collocation at a tolerance of 1e-9. The last column: how many times as long as the quickest row of "
        "neckloom that is at least as exact. All begin from rest as it is given to them; what neckloom takes to find rest "
        "from nothing is taken off. *Plain*: the true inertia, from the neighbour's pose, damped about critically until "
        "it rests. *Quick*: at rest all the same, with the step, the damping and the softness that were soonest there. "
        "*Tuned*: inertia that only the way to rest depends on, most with poses extrapolated and left off while still moving, "
        "as soon as the reference says that it may; a person without a reference could not.", "",
        "| program | how | a pose | error | times as long |", "| --- | --- | ---: | ---: | ---: |",
    ]
    for row in results["sweep"]:
        if row["who"] == "neckloom":
            out.append(f"| neckloom | {row['how']} | {time_of(row['seconds'])} | {power(row['error'])} | |")
    for row, mine, times in ratios(results):
        how = row["how"] + (f" ({row['settings']})" if row["settings"] else "")
        told = f"{times:.3g} ({mine['how']})" if mine else "none as exact"
        out.append(f"| {row['who']} | {how} | {time_of(row['seconds'])} | {power(row['error'])} | {told} |")
    out += ["", "## What was aimed at", ""]
    for who, aim in AIMS:
        own = [(times, row["how"]) for row, _, times in ratios(results) if row["who"] == who and times]
        for kind in dict.fromkeys(kind_of(how) for _, how in own):
            found = [pair for pair in own if kind_of(pair[1]) == kind]
            least, most = min(found), max(found)
            word = "reached" if least[0] >= aim else "reached in some rows" if most[0] >= aim else "not reached"
            told = f"{least[0]:.3g} times" if least == most else f"{least[0]:.3g} to {most[0]:.3g} times"
            out.append(f"- {aim} times as quick as {who}{kind}: {word}, {told}.")
    for what, pairs in (("a mesh, beside parry3d-f64", meshes(results)), ("points, beside cKDTree", points(results))):
        slow = [label for label, mine, other in pairs if mine > other]
        word = "at least as quick everywhere" if not slow else "slower for " + ", ".join(slow)
        out.append(f"- Distance to {what}: {word}.")
    out += ["", "## Nearest distances", "",
            "50 000 places within 30 mm of the surface, in no order and along a Z-curve; one thread. The sums of all "
            "distances agree to 1e-9.", "",
            "| to | neckloom | the other | times as long |", "| --- | ---: | ---: | ---: |"]
    for name, pairs in (("parry3d-f64", meshes(results)), ("cKDTree", points(results))):
        for label, mine, other in pairs:
            out.append(f"| {label} | {time_of(mine)} | {name}: {time_of(other)} | {other / mine:.2f} |")
    return "\n".join(out) + "\n"


def same(mine, other):
    assert abs(mine - other) < 1e-9 * mine, "the sums of distances differ"


def meshes(results):
    pairs = []
    for row in results["distances"]:
        if row["to"] == "mesh":
            same(row["sum"], row["parry3d"]["sum"])
            label = f"{row['triangles']:,} triangles, ".replace(",", " ", 1) + row["order"]
            pairs.append((label, row["seconds"], row["parry3d"]["seconds"]))
    return pairs


def points(results):
    pairs = []
    for row in results["distances"]:
        if row["to"] == "points":
            seconds, total, leaf = results["tree"][row["order"]]
            same(row["sum"], total)
            pairs.append((f"1 000 000 points, {row['order']} (leaves of {leaf})", row["seconds"], seconds))
    return pairs


def mark(kind, x, y, filled):
    paint = f'fill="{BLACK if filled else PAPER}" stroke="{BLACK}" stroke-width="0.4"'
    if kind == "disc":
        return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="1.3" {paint}/>'
    shape = {
        "square": [(-1.2, -1.2), (1.2, -1.2), (1.2, 1.2), (-1.2, 1.2)],
        "triangle": [(0, -1.6), (1.5, 1.1), (-1.5, 1.1)],
        "diamond": [(0, -1.8), (1.5, 0), (0, 1.8), (-1.5, 0)],
    }[kind]
    return f'<polygon points="{" ".join(f"{x + a:.2f},{y + b:.2f}" for a, b in shape)}" {paint}/>'


def text(x, y, words, size=3.1, anchor="start", ink=BLACK, more=""):
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size}" text-anchor="{anchor}" fill="{ink}"{more}>{words}</text>'


def clear_side(x, y, taken):
    """Where a letter beside a mark lies on least else: its anchor and how far it is off, on the first such of four sides."""
    sides = [("start", 2.4, 1.0), ("end", -2.4, 1.0), ("middle", 0.0, -2.4), ("middle", 0.0, 4.4)]

    def covers(side):
        anchor, dx, dy = side
        left = x + dx - {"start": 0.0, "middle": 1.1, "end": 2.2}[anchor]
        return sum(left < b[2] and b[0] < left + 2.2 and y + dy - 2.2 < b[3] and b[1] < y + dy for b in taken)

    return min(sides, key=covers)


def picture(results):
    left, right, top, bottom = 24.0, 176.0, 30.0, 122.0
    rows = results["sweep"]
    x_from, x_to, y_from, y_to = -9.0, -1.0, -6.0, 0.5
    x = lambda error: left + (right - left) * (max(math.log10(error), x_from) - x_from) / (x_to - x_from)  # noqa: E731
    y = lambda seconds: bottom - (bottom - top) * (math.log10(seconds) - y_from) / (y_to - y_from)  # noqa: E731
    out = [
        '<svg xmlns="http://www.w3.org/2000/svg" width="190mm" height="190mm" viewBox="0 0 190 190" role="img" '
        'aria-labelledby="t d" fill="none" font-family="\'Workshop Sheet\', sans-serif">',
        '<title id="t">Beside other programs</title>',
        '<desc id="d">Time of one equilibrium against the error of the tightest radius, and time of one nearest distance, '
        'for neckloom and four other programs. The numbers stand in beside_others.md.</desc>',
        f'<rect width="190" height="190" fill="{PAPER}"/>',
        text(8, 12, "Beside other programs", 7),
        text(8, 19, "One span, 41 steering angles: time of a pose against the error of the tightest radius. Lower left is "
             "better."),
        text(8, 24.5, "Filled: neckloom. Open: others. P, Q: plain and quick relaxation, until it rests.", 2.75, ink=GREY),
    ]
    for k in range(int(x_from), int(x_to) + 1):
        out.append(f'<path d="M{x(10**k):.2f} {top}V{bottom}" stroke="{PALE}" stroke-width="0.15"/>')
        out.append(text(x(10**k), bottom + 5, f"1e{k}", 2.75, "middle", GREY))
    for k, name in ((-6, "1 µs"), (-5, "10 µs"), (-4, "100 µs"), (-3, "1 ms"), (-2, "10 ms"), (-1, "100 ms"), (0, "1 s")):
        out.append(f'<path d="M{left} {y(10**k):.2f}H{right}" stroke="{PALE}" stroke-width="0.15"/>')
        out.append(text(left - 2, y(10**k) + 1, name, 2.75, "end", GREY))
    out.append(text((left + right) / 2, bottom + 10, "error of the tightest radius", 2.75, "middle", GREY))
    dashes = {"neckloom": "", "SciPy solve_bvp": "3 1.4", "PyElastica": "0.01 1.2", "MuJoCo": "4 0.9 0.6 0.9"}
    # What a letter may not lie on: marks, names, letters.
    taken, lettered = [], []
    letters = {", plain": "P", ", quick": "Q"}
    for who, kind in MARKS.items():
        mine = sorted((r for r in rows if r["who"] == who and 0.9 * 10**x_from < r["error"]), key=lambda r: r["error"])
        line = [r for r in mine if kind_of(r["how"]) not in letters]
        path = "M" + "L".join(f"{x(r['error']):.2f} {y(r['seconds']):.2f}" for r in line)
        width = 0.7 if who == "neckloom" else 0.3
        out.append(
            f'<path d="{path}" stroke="{BLACK}" stroke-width="{width}" stroke-dasharray="{dashes[who]}" '
            'stroke-linecap="round"/>')
        for r in mine:
            out.append(mark(kind, x(r["error"]), y(r["seconds"]), who == "neckloom"))
            taken.append((x(r["error"]) - 1.6, y(r["seconds"]) - 1.8, x(r["error"]) + 1.6, y(r["seconds"]) + 1.8))
            if letter := letters.get(kind_of(r["how"])):
                lettered.append((x(r["error"]), y(r["seconds"]), letter))
        at = line[len(line) // 2] if who in ("neckloom", "SciPy solve_bvp") else line[-1]
        down = 9 if who == "neckloom" else -5
        side = (x(at["error"]), "middle") if who in ("neckloom", "SciPy solve_bvp") else (x(at["error"]) + 2.5, "start")
        base = y(at["seconds"]) + (down if side[1] == "middle" else 1)
        out.append(text(side[0], base, who, 3.1, side[1]))
        begins = side[0] - (0.85 * len(who) if side[1] == "middle" else 0.0)
        taken.append((begins, base - 2.4, begins + 1.7 * len(who), base + 0.6))
    for at_x, at_y, letter in lettered:
        anchor, dx, dy = clear_side(at_x, at_y, taken)
        out.append(text(at_x + dx, at_y + dy, letter, 2.75, anchor))
        taken.append((at_x + dx - 1.1, at_y + dy - 2.2, at_x + dx + 1.1, at_y + dy))
    out.append(text(8, 143, "Nearest distance from a place to a scan: time of one query."))
    bars = [(label, mine, other, "parry3d-f64") for label, mine, other in meshes(results)]
    bars += [(label.split(" (")[0], mine, other, "cKDTree") for label, mine, other in points(results)]
    out.append(
        f'<defs><pattern id="h" width="1.6" height="1.6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        f'<path d="M0 0V1.6" stroke="{BLACK}" stroke-width="0.5"/></pattern></defs>')
    longest = max(max(mine, other) for _, mine, other, _ in bars)
    for i, (label, mine, other, name) in enumerate(bars):
        base = 149 + 6.6 * i
        out.append(text(62, base + 2.6, label, 2.75, "end"))
        for k, (seconds, paint, who) in enumerate(((mine, BLACK, "neckloom"), (other, "url(#h)", name))):
            width = 85 * seconds / longest
            out.append(
                f'<rect x="64" y="{base + 2.8 * k:.2f}" width="{width:.2f}" height="2.4" fill="{paint}" '
                f'stroke="{BLACK}" stroke-width="0.2"/>')
            out.append(text(65.5 + width, base + 2.8 * k + 2.1, f"{who} {time_of(seconds)}", 2.6))
    out.append("</svg>")
    return "\n".join(out) + "\n"
