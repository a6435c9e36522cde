// How the drawing is inked: paper-coloured fills with a soft shade, hatching for what is hot, dots for what moves, an outline
// round everything, and hidden harness as dashes. Pattern always goes with colour.

import { BackSide, Color, DoubleSide, GreaterDepth, LineBasicMaterial, ShaderMaterial } from "../three/three.module.min.js";

// Colours come from the style sheet, so both lights are written in one place.
export function inks() {
  const style = getComputedStyle(document.documentElement);
  const colour = (name) => new Color(style.getPropertyValue(`--${name}`).trim());
  return {
    paper: colour("paper"), ink: colour("ink"), grey: colour("grey"), pale: colour("pale"), rust: colour("rust"),
    still: colour("still"), steered: colour("steered"), warm: colour("warm"), band: colour("band"), ghost: colour("ghost"), swept: colour("swept"), chosen: colour("chosen"),
  };
}

const FILL_VERTEX = `
varying vec3 seen;
void main() {
  vec4 at = modelViewMatrix * vec4(position, 1.0);
  seen = at.xyz;
  gl_Position = projectionMatrix * at;
}`;

// Flat shade from the face itself, so that shapes need no normals.
const FILL_FRAGMENT = `
uniform vec3 fill; uniform vec3 line; uniform int pattern; uniform float ratio; uniform float shade;
varying vec3 seen;
void main() {
  vec3 normal = normalize(cross(dFdx(seen), dFdy(seen)));
  float lit = 0.5 + 0.5 * dot(normal, normalize(vec3(-0.35, 0.75, 0.55)));
  vec3 colour = fill * mix(1.0 - shade, 1.0, lit);
  vec2 at = gl_FragCoord.xy / ratio;
  if (pattern == 1 && mod(at.x + at.y, 7.0) < 1.0) colour = mix(colour, line, 0.62);
  if (pattern == 2 && length(mod(at, 9.0) - 4.5) < 0.8) colour = mix(colour, line, 0.5);
  gl_FragColor = vec4(colour, 1.0);
  #include <colorspace_fragment>
}`;

export function fillMaterial(fill, line, pattern, shade) {
  return new ShaderMaterial({
    uniforms: { fill: { value: fill }, line: { value: line }, pattern: { value: pattern }, ratio: { value: devicePixelRatio }, shade: { value: shade } },
    vertexShader: FILL_VERTEX,
    fragmentShader: FILL_FRAGMENT,
    side: DoubleSide,
    polygonOffset: true, polygonOffsetFactor: 1.5, polygonOffsetUnits: 2,
  });
}

// The outline: the same shape seen from inside, blown up by some pixels.
export function rimMaterial(colour, wide) {
  return new ShaderMaterial({
    uniforms: { colour: { value: colour }, wide: { value: wide }, size: { value: [800, 600] } },
    vertexShader: `
uniform float wide; uniform vec2 size;
void main() {
  vec4 at = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
  vec3 out_ = normalize(normalMatrix * normal);
  float l = length(out_.xy);
  if (l > 0.001) at.xy += out_.xy / l * wide * 2.0 / size * at.w;
  gl_Position = at;
}`,
    fragmentShader: `uniform vec3 colour; void main() { gl_FragColor = vec4(colour, 1.0);
  #include <colorspace_fragment>
}`,
    side: BackSide,
  });
}

export const edgeMaterial = (colour) => new LineBasicMaterial({ color: colour });

const TUBE_VERTEX = `
attribute float station; attribute float mark;
varying vec3 n; varying float s; varying float m;
void main() {
  n = normalMatrix * normal; s = station; m = mark;
  gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
}`;

// Inked at its edges; striped where a limit is broken; in the hidden pass only dashes of it are left.
const TUBE_FRAGMENT = `
uniform vec3 band; uniform vec3 ink; uniform vec3 rust; uniform vec3 paper; uniform int way; uniform float clear;
varying vec3 n; varying float s; varying float m;
void main() {
  float facing = abs(normalize(n).z);
  vec3 colour = facing < 0.5 ? ink : band;
  float alpha = 1.0;
  if (way == 0 && m > 0.5) colour = facing < 0.5 ? rust : (mod(s, 7.0) < 4.4 ? rust : paper);
  if (way == 1) { if (mod(s, 11.0) > 5.5) discard; colour = m > 0.5 ? rust : ink; alpha = clear; }
  if (way == 2) { if (mod(s, 16.0) > 10.0) discard; colour = facing < 0.55 ? ink : paper; alpha = clear; }
  gl_FragColor = vec4(colour, alpha);
  #include <colorspace_fragment>
}`;

export function tubeMaterial(ink, way) {
  const hidden = way === 1;
  return new ShaderMaterial({
    uniforms: {
      band: { value: ink.band }, ink: { value: way === 2 ? ink.ghost : ink.ink }, rust: { value: ink.rust }, paper: { value: ink.paper },
      way: { value: way }, clear: { value: hidden ? 0.42 : 0.9 },
    },
    vertexShader: TUBE_VERTEX,
    fragmentShader: TUBE_FRAGMENT,
    side: DoubleSide,
    transparent: way !== 0,
    depthWrite: way === 0,
    // A ghost is seen through whatever is before it.
    depthTest: way !== 2,
    ...(hidden ? { depthFunc: GreaterDepth } : {}),
  });
}
