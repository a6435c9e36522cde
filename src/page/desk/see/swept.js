// The room that the harness takes in all poses, as every view sees it: one outlined, hatched patch over the drawing, however
// many poses lie in it. All poses are drawn as tubes into a mask; the patch is where the mask is, its outline just beside.

import {
  AlwaysStencilFunc, BufferAttribute, BufferGeometry, EqualStencilFunc, Group, Mesh, NotEqualStencilFunc, ReplaceStencilOp, ShaderMaterial,
} from "../three/three.module.min.js";

// Corners of a tube's ring, and the most rings of a branch: an outline needs no more.
const SIDES = 6;
const RINGS = 64;
// What travels less is not swept but lies still [mm].
const STILL = 1;
const MASK = 1;

export class Swept {
  root = new Group();
  // Outlines whose width is in pixels of the view.
  rims = [];
  // The shapes that it was made of.
  of = null;

  build(scene, shapes, ink) {
    this.clear();
    this.of = shapes;
    const at = [];
    const out = [];
    const index = [];
    for (const branch of shapes.branches) {
      const told = scene.branches.find((one) => one.name === branch.name);
      if (told) swept(branch, told.diameter_mm / 2, { at, out, index });
    }
    if (!index.length) return;
    const geometry = new BufferGeometry();
    geometry.setAttribute("position", new BufferAttribute(new Float32Array(at), 3));
    geometry.setAttribute("normal", new BufferAttribute(new Float32Array(out), 3));
    geometry.setIndex(new BufferAttribute(new Uint32Array(index), 1));
    const rim = outline(ink.swept);
    this.rims = [rim];
    const layers = [new Mesh(geometry, mask()), new Mesh(geometry, rim), new Mesh(sheet(), patch(ink.swept))];
    layers.forEach((mesh, nth) => {
      mesh.frustumCulled = false;
      mesh.renderOrder = 20 + nth;
    });
    this.root.add(...layers);
  }

  clear() {
    for (const mesh of this.root.children) {
      mesh.geometry.dispose();
      mesh.material.dispose();
    }
    this.root.clear();
    this.rims = [];
    this.of = null;
  }
}

// The tubes of one branch in all poses, where it moves at all, and the sheet from each pose to the next.
function swept({ lines, stations }, radius, to) {
  const every = Math.max(1, Math.ceil(stations.length / RINGS));
  const rings = [...stations.keys()].filter((i) => i % every === 0 || i === stations.length - 1);
  const travels = rings.map((i) => lines.some((line) => Math.hypot(line[3 * i] - lines[0][3 * i], line[3 * i + 1] - lines[0][3 * i + 1], line[3 * i + 2] - lines[0][3 * i + 2]) > STILL));
  const moves = rings.map((_, k) => travels[k] || travels[k - 1] || travels[k + 1]);
  let before = null;
  for (const line of lines) {
    const first = to.at.length / 3;
    rings.forEach((i, k) => ring(line, rings[Math.max(k - 1, 0)], i, rings[Math.min(k + 1, rings.length - 1)], radius, to));
    for (let k = 0; k + 1 < rings.length; k += 1) {
      if (!moves[k] || !moves[k + 1]) continue;
      const [a, b] = [first + k * SIDES, first + (k + 1) * SIDES];
      for (let side = 0; side < SIDES; side += 1) {
        const next = (side + 1) % SIDES;
        to.index.push(a + side, b + side, a + next, a + next, b + side, b + next);
      }
      if (before === null) continue;
      const [c, d] = [before + k * SIDES, before + (k + 1) * SIDES];
      to.index.push(a, c, b, b, c, d);
    }
    before = first;
  }
}

function ring(line, before, i, after, radius, { at, out }) {
  const [p, q] = [3 * before, 3 * after];
  const t = unit([line[q] - line[p], line[q + 1] - line[p + 1], line[q + 2] - line[p + 2]]);
  const u = unit(cross(t, Math.abs(t[2]) < 0.9 ? [0, 0, 1] : [1, 0, 0]));
  const v = cross(t, u);
  for (let side = 0; side < SIDES; side += 1) {
    const angle = (2 * Math.PI * side) / SIDES;
    const [c, s] = [Math.cos(angle), Math.sin(angle)];
    for (let x = 0; x < 3; x += 1) {
      const normal = c * u[x] + s * v[x];
      out.push(normal);
      at.push(line[3 * i + x] + radius * normal);
    }
  }
}

const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const unit = (a) => {
  const l = Math.hypot(...a) || 1;
  return a.map((x) => x / l);
};

// What is masked is drawn over everything that is nearer: the room counts, not what hides it.
const over = { transparent: true, depthTest: false, depthWrite: false, stencilWrite: true, stencilRef: MASK, side: 2 };
const PLACE = "void main() { gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0); }";

const mask = () => new ShaderMaterial({
  vertexShader: PLACE,
  fragmentShader: "void main() { gl_FragColor = vec4(0.0); }",
  ...over, colorWrite: false, stencilFunc: AlwaysStencilFunc, stencilZPass: ReplaceStencilOp,
});

const outline = (colour) => new ShaderMaterial({
  uniforms: { colour: { value: colour }, size: { value: [800, 600] } },
  vertexShader: `
uniform vec2 size;
void main() {
  vec4 at = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
  vec2 away = (normalMatrix * normal).xy;
  float l = length(away);
  if (l > 0.001) at.xy += away / l * 4.0 / size * at.w;
  gl_Position = at;
}`,
  fragmentShader: `uniform vec3 colour; void main() { gl_FragColor = vec4(colour, 1.0);
  #include <colorspace_fragment>
}`,
  ...over, stencilFunc: NotEqualStencilFunc,
});

// The whole view, of which the mask leaves the patch: hatched the other way than what is hot.
const patch = (colour) => new ShaderMaterial({
  uniforms: { colour: { value: colour }, ratio: { value: devicePixelRatio } },
  vertexShader: "void main() { gl_Position = vec4(position.xy, 0.0, 1.0); }",
  fragmentShader: `
uniform vec3 colour; uniform float ratio;
void main() {
  vec2 at = gl_FragCoord.xy / ratio;
  gl_FragColor = vec4(colour, mod(at.x - at.y, 8.0) < 1.2 ? 0.8 : 0.16);
  #include <colorspace_fragment>
}`,
  ...over, stencilFunc: EqualStencilFunc,
});

function sheet() {
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(new Float32Array([-1, -1, 0, 3, -1, 0, -1, 3, 0]), 3));
  return geometry;
}
