// The large view while the hand drags something on and no graphics chip draws: half as finely, and what stands still, the
// machine, is drawn once and laid under all later pictures. The processor is wanted for the shapes.

import {
  BufferAttribute, BufferGeometry, Camera, FramebufferTexture, LinearFilter, Mesh, Scene, ShaderMaterial, Vector2, Vector4,
} from "../three/three.module.min.js";

export class Rough {
  #key = null;
  #room = null;
  #box = new Vector4();
  #sheet = new Scene();
  #eye = new Camera();

  constructor(renderer) {
    this.renderer = renderer;
    this.#sheet.add(sheet());
    renderer.domElement.addEventListener("webglcontextlost", () => (this.#room = this.#key = null));
  }

  // The machine is another.
  forget() {
    this.#key = null;
  }

  // `view`: {x, y, width, height} on the canvas; `still` and `moves`: two scenes; `key`: what `still` looks like depends on.
  draw(view, still, moves, camera, key) {
    const { renderer } = this;
    const gl = renderer.getContext();
    const part = this.#set(view.x, view.y, view.width / 2, view.height / 2);
    const room = this.#roomOf(gl, part);
    const kept = { x: 0, y: 0, width: part.width, height: part.height };
    // The mask of what is swept is left from the picture before.
    gl.clear(gl.STENCIL_BUFFER_BIT);
    if (this.#key === key) copy(gl, room.still, kept, null, part);
    else {
      renderer.clear();
      renderer.render(still, camera);
      copy(gl, null, part, room.still, kept);
      this.#key = key;
    }
    renderer.render(moves, camera);
    // Drawn into a quarter of the view, then drawn out over all of it. To copy it would take longer.
    renderer.copyFramebufferToTexture(room.drawn, new Vector2(part.x, part.y));
    this.#set(view.x, view.y, view.width, view.height);
    this.#sheet.children[0].material.uniforms.drawn.value = room.drawn;
    renderer.render(this.#sheet, this.#eye);
  }

  #set(x, y, width, height) {
    this.renderer.setViewport(x, y, width, height);
    this.renderer.setScissor(x, y, width, height);
    const box = this.renderer.getCurrentViewport(this.#box);
    return { x: box.x, y: box.y, width: box.z, height: box.w };
  }

  // Room for both pictures, of the size of the part that is drawn.
  #roomOf(gl, { width, height }) {
    if (this.#room?.width === width && this.#room.height === height) return this.#room;
    if (this.#room) clear(gl, this.#room.still);
    this.#room?.drawn.dispose();
    this.#key = null;
    const drawn = new FramebufferTexture(width, height);
    drawn.magFilter = drawn.minFilter = LinearFilter;
    return (this.#room = { width, height, drawn, still: made(gl, width, height) });
  }
}

// All of a view, whatever the eye.
function sheet() {
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(new Float32Array([-1, -1, 0, 3, -1, 0, -1, 3, 0]), 3));
  const material = new ShaderMaterial({
    uniforms: { drawn: { value: null } },
    vertexShader: "varying vec2 at; void main() { at = 0.5 + 0.5 * position.xy; gl_Position = vec4(position.xy, 0.0, 1.0); }",
    // The colours are those of the screen already.
    fragmentShader: "uniform sampler2D drawn; varying vec2 at; void main() { gl_FragColor = texture2D(drawn, at); }",
    depthTest: false,
    depthWrite: false,
  });
  const mesh = new Mesh(geometry, material);
  mesh.frustumCulled = false;
  return mesh;
}

// The renderer has no frame of its own whose depths can be copied onto the canvas.
function made(gl, width, height) {
  const frame = gl.createFramebuffer();
  gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
  const layer = (format, at) => {
    const buffer = gl.createRenderbuffer();
    gl.bindRenderbuffer(gl.RENDERBUFFER, buffer);
    gl.renderbufferStorage(gl.RENDERBUFFER, format, width, height);
    gl.framebufferRenderbuffer(gl.FRAMEBUFFER, at, gl.RENDERBUFFER, buffer);
    return buffer;
  };
  const layers = [layer(gl.RGBA8, gl.COLOR_ATTACHMENT0), layer(gl.DEPTH24_STENCIL8, gl.DEPTH_STENCIL_ATTACHMENT)];
  gl.bindRenderbuffer(gl.RENDERBUFFER, null);
  gl.bindFramebuffer(gl.FRAMEBUFFER, null);
  return { frame, layers };
}

function clear(gl, { frame, layers }) {
  gl.deleteFramebuffer(frame);
  for (const layer of layers) gl.deleteRenderbuffer(layer);
}

// Colours and depths; none: the canvas. Nothing is left bound: the renderer believes that the canvas is.
function copy(gl, from, a, to, b) {
  gl.disable(gl.SCISSOR_TEST);
  gl.bindFramebuffer(gl.READ_FRAMEBUFFER, from?.frame ?? null);
  gl.bindFramebuffer(gl.DRAW_FRAMEBUFFER, to?.frame ?? null);
  gl.blitFramebuffer(a.x, a.y, a.x + a.width, a.y + a.height, b.x, b.y, b.x + b.width, b.y + b.height, gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT, gl.NEAREST);
  gl.bindFramebuffer(gl.FRAMEBUFFER, null);
  gl.enable(gl.SCISSOR_TEST);
}
