"""Kirchhoff rod as a boundary value problem: scipy.integrate.solve_bvp (4th-order collocation, tol 1e-7).

State of each span: position, unit quaternion (third director along the rod), force, moment; r' = v d3 with
v = 1 + T/EA, moment EI and GJ times the curvature and twist by unstretched length, weight along -z.
"""
import numpy as np
from scipy.integrate import solve_bvp

G = 9.80665

def qmul(p, q):
    return np.array([p[0]*q[0]-p[1]*q[1]-p[2]*q[2]-p[3]*q[3],
                     p[0]*q[1]+p[1]*q[0]+p[2]*q[3]-p[3]*q[2],
                     p[0]*q[2]-p[1]*q[3]+p[2]*q[0]+p[3]*q[1],
                     p[0]*q[3]+p[1]*q[2]-p[2]*q[1]+p[3]*q[0]])
def conj(q): return np.array([q[0], -q[1], -q[2], -q[3]])
def cols(q):
    w, x, y, z = q
    d1 = np.array([1-2*(y*y+z*z), 2*(x*y+w*z), 2*(x*z-w*y)])
    d2 = np.array([2*(x*y-w*z), 1-2*(x*x+z*z), 2*(y*z+w*x)])
    d3 = np.array([2*(x*z+w*y), 2*(y*z-w*x), 1-2*(x*x+y*y)])
    return d1, d2, d3
def axis_q(axis, a):
    axis = np.asarray(axis, float); axis = axis/np.linalg.norm(axis)
    return np.concatenate([[np.cos(a/2)], np.sin(a/2)*axis])
def rot(q, v): return qmul(qmul(q, np.concatenate([[0], v])), conj(q))[1:]
def q_facing(t):
    """Any rotation that takes e3 to t."""
    t = np.asarray(t, float)/np.linalg.norm(t); z = np.array([0, 0, 1.0])
    c = z@t
    if c < -0.999999: return np.array([0, 1.0, 0, 0])
    q = np.concatenate([[1+c], np.cross(z, t)]); return q/np.linalg.norm(q)
def dot(a, b): return np.sum(a*b, axis=0)

class Rod:
    """All in metres and newtons outside; inside scaled by the total length and EI."""
    def __init__(s, lengths, EI, GJ, EA, mass, tol=1e-7):
        s.L = np.array(lengths); s.l = s.L.sum(); s.EI = EI
        s.h = s.L/s.l; s.gj = GJ/EI; s.ea = EA*s.l**2/EI
        s.w = np.array([0, 0, -mass*G*s.l**3/EI]); s.tol = tol
        s.sp = len(lengths)
    def fun(s, x, y):
        out = np.empty_like(y)
        for k in range(s.sp):
            Y = y[13*k:13*k+13]; h = s.h[k]
            q, n, m = Y[3:7], Y[7:10], Y[10:13]
            nn = np.sqrt(dot(q, q)); d1, d2, d3 = cols(q/nn)
            v = 1+dot(n, d3)/s.ea
            rp = v*d3
            u = np.array([np.zeros_like(nn), dot(m, d1), dot(m, d2), dot(m, d3)/s.gj])
            out[13*k:13*k+3] = h*rp
            out[13*k+3:13*k+7] = h*0.5*qmul(q, u)
            out[13*k+7:13*k+10] = -h*s.w[:, None] if y.ndim > 1 else -h*s.w
            out[13*k+10:13*k+13] = h*np.cross(n, rp, axis=0)
        return out
    def solve(s, holds, guess, twist_free=False, roll=None):
        """holds: list of (position m, q or None, tangent known). First/last may be pivots (q None)."""
        P = [np.asarray(p)/s.l for p, _ in holds]; Q = [q for _, q in holds]
        N = 13*s.sp
        gauge = roll if roll is not None else guess.y[3:7, 0]
        perp = qmul(gauge, np.array([0, 0, 0, 1.0]))
        def bc(a, b):
            c = [a[0:3]-P[0]]
            d1, d2, d3 = cols(a[3:7]/np.linalg.norm(a[3:7]))
            if Q[0] is not None: c.append(a[3:7]-Q[0])
            else:
                c += [[a[3:7]@a[3:7]-1], [a[10:13]@d1, a[10:13]@d2]]
                if Q[-1] is None: c.append([a[3:7]@perp])
                else: c.append([a[10:13]@d3])
            for k in range(1, s.sp):
                i = 13*(k-1); j = 13*k
                c += [b[i:i+3]-P[k], a[j:j+3]-P[k], a[j+3:j+7]-b[i+3:i+7], a[j+10:j+13]-b[i+10:i+13]]
            e = b[N-13:]
            c.append(e[0:3]-P[-1])
            d1, d2, d3 = cols(e[3:7]/np.linalg.norm(e[3:7]))
            if Q[-1] is None: c.append([e[10:13]@d1, e[10:13]@d2, e[10:13]@d3])
            else:
                T1, T2, T3 = cols(Q[-1])
                if twist_free and Q[0] is not None: c += [[d3@T1, d3@T2, e[10:13]@d3]]
                else:
                    dq = qmul(conj(Q[-1]), e[3:7]); c.append(2*dq[1:]*np.sign(dq[0] if dq[0] else 1))
            return np.concatenate(c)
        r = solve_bvp(s.fun, bc, guess.x, guess.y, tol=s.tol, max_nodes=4000)
        return r
    def measure(s, sol, dense=4001):
        x = np.linspace(0, 1, dense); y = sol.sol(x); res = []; E = 0
        for k in range(s.sp):
            Y = y[13*k:13*k+13]; q = Y[3:7]; q = q/np.sqrt(dot(q, q)); n, m = Y[7:10], Y[10:13]
            d1, d2, d3 = cols(q)
            kb = np.sqrt(dot(m, d1)**2+dot(m, d2)**2); m3 = dot(m, d3); T = dot(n, d3)
            v = 1+T/s.ea; h = s.h[k]
            i = kb.argmax(); kap = kb[i]
            if 0 < i < dense-1:
                a, b, c = kb[i-1:i+2]; den = a+c-2*b
                if den < 0: kap = b-0.125*(a-c)**2/den
            chord = np.linalg.norm(Y[0:3, -1]-Y[0:3, 0])
            e = 0.5*kb**2+0.5*m3**2/s.gj+0.5*s.ea*(v-1)**2-dot(s.w[:, None], Y[0:3])
            E += np.trapezoid(e, x)*h
            res.append(dict(radius=1e3*s.l/kap if kap > 1e-9 else np.inf, at=1e3*(s.l*h*x[i]+s.L[:k].sum()),
                slack=1e3*s.l*(h-chord), tension=T.max()*s.EI/s.l**2, strain=100*(v.max()-1),
                twist=np.degrees(np.trapezoid(m3, x)*h/s.gj), pts=Y[0:3].T*s.l))
        return res, E*s.EI/s.l

class Guess: pass
def guess(rod, holds, sides, amp):
    """A cubic path through the holds; each span with a sin² bulge of amp times its length towards its side."""
    n = 41; x = np.linspace(0, 1, n); y = np.zeros((13*rod.sp, n))
    prev = None
    for k in range(rod.sp):
        a, b = np.asarray(holds[k][0]), np.asarray(holds[k+1][0]); c = b-a; L = rod.L[k]
        def tan(h, d):
            return rot(h[1], np.array([0, 0, 1.0])) if h[1] is not None else d/np.linalg.norm(d)
        ta, tb = tan(holds[k], c), tan(holds[k+1], c)
        H = lambda u: ((2*u**3-3*u**2+1)[:, None]*a+(u**3-2*u**2+u)[:, None]*L*ta+(-2*u**3+3*u**2)[:, None]*b+(u**3-u**2)[:, None]*L*tb)
        r = H(x)+np.outer(np.sin(np.pi*x)**2, sides[k])*amp*L
        t = np.gradient(r, x, axis=0); t /= np.linalg.norm(t, axis=1)[:, None]
        q = prev if prev is not None else (holds[0][1] if holds[0][1] is not None else q_facing(t[0]))
        Q = []
        for i in range(n):
            d3 = rot(q, np.array([0, 0, 1.0])); ax = np.cross(d3, t[i]); sn = np.linalg.norm(ax)
            if sn > 1e-14: q = qmul(axis_q(ax, np.arctan2(sn, d3@t[i])), q)
            Q.append(q)
        prev = q; Q = np.array(Q).T
        i = 13*k; y[i:i+3] = r.T/rod.l; y[i+3:i+7] = Q
        kb = np.cross(t, np.gradient(t, x*rod.h[k], axis=0)); y[i+10:i+13] = kb.T
    g = Guess(); g.x, g.y = x, y
    return g
