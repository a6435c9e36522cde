// From where the machine is seen. All views are parallel, as on a drawing; one of them turns freely.

import { OrthographicCamera, Vector3 } from "../three/three.module.min.js";

// Height of a view's caption [pixel].
const CAPTION = 36;

export const EYES = {
  turn: "Turn it freely",
  side: "From the rider's left",
  top: "From above",
  front: "From the front",
  axis: "Along the steering axis",
};

export class Eyes {
  cameras = Object.fromEntries(Object.keys(EYES).map((name) => [name, new OrthographicCamera(-1, 1, 1, -1, -8000, 8000)]));
  // Per view: what is in its middle.
  seen = {};
  // Of the free view: about the upright, and up.
  turned = { around: 0.62, up: 0.42 };
  // What is fitted into the views.
  points = null;

  // Fits all views to what is there, given as points.
  fit(points, scene) {
    this.points = points;
    this.scene = scene;
    for (const name of Object.keys(EYES)) this.seen[name] = { at: this.middle(name), zoom: 1 };
  }

  // The middle of all points as the view has them.
  middle(name) {
    const { right, high, back } = this.frame(name);
    const at = new Vector3();
    for (const way of [right, high, back]) {
      const { low, high: top } = this.extent(way);
      at.addScaledVector(way, (low + top) / 2);
    }
    return at;
  }

  extent(way) {
    let [low, high] = [Infinity, -Infinity];
    for (const point of this.points) {
      const along = point.dot(way);
      low = Math.min(low, along);
      high = Math.max(high, along);
    }
    return { low, high };
  }

  // The view's directions: right and up on the screen, and toward the eye.
  frame(name) {
    const { around, up } = this.turned;
    const back = {
      turn: () => new Vector3(Math.cos(up) * Math.sin(around), Math.cos(up) * Math.cos(around), Math.sin(up)),
      side: () => new Vector3(0, 1, 0),
      top: () => new Vector3(0, 0, 1),
      front: () => new Vector3(1, 0, 0),
      axis: () => this.axis(),
    }[name]();
    let high = new Vector3(0, 0, 1);
    // From above the front is to the left, as it is from the rider's left: one view stands over the other.
    if (name === "top" || name === "axis") high = new Vector3(0, -1, 0);
    high.addScaledVector(back, -high.dot(back)).normalize();
    return { back, high, right: high.clone().cross(back) };
  }

  // The steering axis: the first joint that turns about an axis nearer to upright than to level.
  axis() {
    const found = this.scene?.bodies.find((body) => body.joint?.kind === "turns" && Math.abs(body.joint.axis[2]) > 0.7);
    const axis = new Vector3(...(found?.joint.axis ?? [0, 0, 1])).normalize();
    return axis.z < 0 ? axis.negate() : axis;
  }

  // `foot`: what is covered at the lower edge [pixel].
  aim(name, width, height, foot = 0) {
    const camera = this.cameras[name];
    const seen = this.seen[name];
    const { back, high } = this.frame(name);
    // The caption's line stays free.
    const free = Math.max(height - CAPTION - foot, 20);
    seen.mmPerPixel = this.mmPerPixel(name, width, free) / seen.zoom;
    camera.top = (free / 2 + CAPTION) * seen.mmPerPixel;
    camera.bottom = -(free / 2 + foot) * seen.mmPerPixel;
    camera.right = (width / 2) * seen.mmPerPixel;
    camera.left = -camera.right;
    camera.position.copy(seen.at).addScaledVector(back, 2000);
    camera.up.copy(high);
    camera.lookAt(seen.at);
    camera.updateProjectionMatrix();
    camera.updateMatrixWorld();
    return camera;
  }

  // The scale that shows everything. The free view keeps its scale while it turns.
  mmPerPixel(name, width, height) {
    const { high, right } = this.frame(name);
    const size = (way) => {
      const { low, high: top } = this.extent(way);
      return 1.1 * (top - low);
    };
    const found = Math.max(size(high) / height, size(right) / width);
    if (name !== "turn") return found;
    const key = `${width} ${height}`;
    if (this.held?.key !== key || this.held.points !== this.points) this.held = { key, points: this.points, scale: found };
    return this.held.scale;
  }

  // Looks at a place from nearby.
  goTo(name, at, zoom) {
    const seen = this.seen[name];
    seen.at.copy(at);
    seen.zoom = Math.max(seen.zoom, zoom);
  }

  zoom(name, by) {
    const seen = this.seen[name];
    seen.zoom = Math.min(Math.max(seen.zoom * by, 0.4), 40);
  }

  pan(name, dx, dy) {
    const { right, high } = this.frame(name);
    const seen = this.seen[name];
    seen.at.addScaledVector(right, -dx * seen.mmPerPixel).addScaledVector(high, dy * seen.mmPerPixel);
  }

  orbit(dx, dy) {
    this.turned.around += dx * 0.008;
    this.turned.up = Math.min(Math.max(this.turned.up + dy * 0.008, -1.5), 1.5);
  }
}
