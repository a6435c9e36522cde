"""Makes spans.csv and gaps.csv from the route files of this folder: python make.py [CASE ...]   (numpy, scipy)

An elastic rod solved independently of the program: Kirchhoff's equations in position, unit quaternion, force and
moment as a boundary value problem (kirchhoff.py), continued over the joint. The route files are read by a few
regular expressions, enough for their uniform layout. At rest several first guesses are tried and the solution of
least energy is taken.
"""
import csv, pathlib, re, sys
import numpy as np
from kirchhoff import Guess, Rod, axis_q, cols, conj, guess, q_facing, qmul

HERE = pathlib.Path(__file__).parent
HEAD = '# Kirchhoff rod by collocation: scipy.integrate.solve_bvp of SciPy 1.17.1, relative residual 1e-7; made by make.py\n'
NUMBERS = r'-?[0-9.]+(?:e-?[0-9]+)?'

def numbers(text): return [float(x) for x in re.findall(NUMBERS, text)]

def read(path):
    text = path.read_text(); joint = None
    if m := re.search(r'Turns\(.*rake: "(\S+) deg", from: "(\S+) deg", to: "(\S+) deg"', text): joint = ('turn', *map(float, m.groups()))
    if m := re.search(r'Slides\(.*along: \((.*?)\), from: (\S+), to: (\S+?)\)', text): joint = ('slide', np.array(numbers(m[1])), float(m[2]), float(m[3]))
    mat = [float(re.search(rf'\b{k}: "(\S+) ', text)[1]) for k in ('bend', 'twist', 'stretch', 'mass')]
    lay = [(m[1] != 'frame', np.array(numbers(m[2])) / 1e3, numbers(m[3]) if m[3] else None, float(m[4]) / 1e3 if m[4] else None)
           for m in re.finditer(r'Tie\(.*?on: "(\w+)", at: \((.*?)\)(?:, facing: \((.*?)\))?(?:, length: (\S+?))?\)', text)]
    parts = [(m[1], m[2], numbers(m[3])) for m in re.finditer(r'name: "(\w+)", on: "frame", shape: (\w+)\((.*)\), surface', text)]
    return joint, mat, lay, parts

def poses(joint):
    if joint is None: return [0.0], 0.0
    lo, hi = joint[-2:]; rest = min(max(0.0, lo), hi); most = 2.0 if joint[0] == 'turn' else (hi - lo) / 5
    side = lambda end: np.linspace(rest, end, int(np.ceil(abs(end - rest) / most - 1e-9)) + 1)[1:]
    return sorted([rest, *side(lo), *side(hi)]), rest

def holds(joint, value, lay, ends):
    out = []
    for (moved, p, _, _), q in zip(lay, ends):
        if moved and joint[0] == 'turn':
            turn = turned(joint, value); p = qmul(qmul(turn, [0, *p]), conj(turn))[1:]; q = qmul(turn, q) if q is not None else None
        elif moved: p = p + joint[1] / np.linalg.norm(joint[1]) * value / 1e3
        out.append((p, q))
    return out

def turned(joint, value):
    rake = np.radians(joint[1]); return axis_q((-np.sin(rake), 0, np.cos(rake)), np.radians(value))

def gap(kind, a, p, diameter=8.0):
    p = p * 1e3
    if kind == 'Ball': d = np.linalg.norm(p - a[:3], axis=1) - a[3] / 2
    elif kind == 'Box':
        q = np.abs(p - a[:3]) - np.array(a[3:]) / 2; d = np.linalg.norm(np.maximum(q, 0), axis=1) + np.minimum(q.max(axis=1), 0)
    else:
        u = np.subtract(a[3:6], a[:3]); s = np.clip((p - a[:3]) @ u / (u @ u), 0, 1)
        d = np.linalg.norm(p - a[:3] - np.outer(s, u), axis=1) - a[6] / 2
    return d.min() - diameter / 2

def coarse(sol):
    g = Guess(); g.x = np.linspace(0, 1, 61); g.y = sol(g.x); return g

def case(path):
    joint, mat, lay, parts = read(path); rod = Rod([f[3] for f in lay[1:]], *mat)
    ends = [q_facing(f[2]) if f[2] else None for f in lay]; values, rest = poses(joint); best = None
    random = np.random.default_rng(1)
    for _ in range(12):
        sides = random.normal(size=(rod.sp, 3)); h = holds(joint, rest, lay, ends)
        try: r = rod.solve(h, guess(rod, h, sides / np.linalg.norm(sides, axis=1)[:, None], 0.15), twist_free=True)
        except Exception: continue      # a first guess that leads nowhere
        if r.status: continue
        end = r.y[-10:-6, -1]           # "along the facing" alone would let the rod arrive backwards
        if ends[-1] is not None and cols(end / np.linalg.norm(end))[2] @ cols(ends[-1])[2] < 0: continue
        energy = rod.measure(r)[1]
        if best is None or energy < best[0] - 1e-9: best = (energy, r)
    start = best[1]
    if joint and ends[-1] is not None:  # untwisted at rest, and held from there on
        q = start.y[-10:-6, -1] / np.linalg.norm(start.y[-10:-6, -1])
        ends[-1] = qmul(conj(turned(joint, rest)), q) if joint[0] == 'turn' else q
    found = {}
    for order in ([v for v in values if v >= rest], [v for v in values[::-1] if v < rest]):
        here = start
        for value in order:
            here = rod.solve(holds(joint, value, lay, ends), coarse(here.sol), twist_free=joint is None, roll=start.y[3:7, 0])
            if here.status: raise SystemExit(f'{path.stem}: lost at {value}')
            found[value] = rod.measure(here)[0]
    spans = [[path.stem, k, f'{v:g}', f"{s['radius']:.4f}", f"{s['slack']:.4f}", f"{s['tension']:.5f}", f"{s['twist'] + 0.0:.4f}", f"{s['strain']:.5f}"]
             for k in range(rod.sp) for v in values for s in [found[v][k]]]
    gaps = []
    for name, kind, a in parts:
        least = min(((min(gap(kind, a, s['pts']) for s in found[v]), v) for v in values))
        gaps.append([path.stem, name, f'{least[0]:.4f}', f'{least[1]:g}'])
    return spans, gaps

if __name__ == '__main__':
    names = sys.argv[1:] or sorted(p.stem for p in HERE.glob('*.ron')); tables = [], []
    for name in names:
        for table, rows in zip(tables, case(HERE / f'{name}.ron')): table += rows
    out = (open(HERE / 'spans.csv', 'w'), open(HERE / 'gaps.csv', 'w')) if not sys.argv[1:] else (sys.stdout, sys.stdout)
    for file, heads, table in zip(out, ('case,span,joint,radius_mm,slack_mm,tension_n,twist_deg,strain_pct', 'case,part,gap_mm,joint'), tables):
        file.write(HEAD + heads + '\n'); csv.writer(file, lineterminator='\n').writerows(table)
