// From where the machine is seen. All views are parallel, as on a drawing; one of them turns freely.

import { OrthographicCamera, Vector3 } from "../three/three.module.min.js";

export const EYES = {
  turn: "Turn it freely",
  side: "From the rider's left",
  top: "From above",
  front: "From the front",
  axis: "Along the steering axis",
};

export class Eyes {
  cameras = Object.fromEntries(Object.keys(EYES).map((name) => [name, new OrthographicCamera(-1, 1, 1, -1, -8000, 8000)]));
  // Per view: what is in its middle, how many millimetres it is high.
  seen = {};
  // Of the free view: about the upright, and up.
  turned = { around: 0.62, up: 0.42 };
  box = null;

  // Fits all views to a box; each keeps what was zoomed once the person zoomed it.
  fit(box, scene) {
    this.box = box;
    this.scene = scene;
    const middle = box.getCenter(new Vector3());
    for (const name of Object.keys(EYES)) this.seen[name] = { at: middle.clone(), high: 0, zoom: 1 };
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
    if (name === "top" || name === "axis") high = new Vector3(1, 0, 0);
    high.addScaledVector(back, -high.dot(back)).normalize();
    return { back, high, right: high.clone().cross(back) };
  }

  // The steering axis: the first joint that turns about an axis nearer to upright than to level.
  axis() {
    const found = this.scene?.bodies.find((body) => body.joint?.kind === "turns" && Math.abs(body.joint.axis[2]) > 0.7);
    const axis = new Vector3(...(found?.joint.axis ?? [0, 0, 1])).normalize();
    return axis.z < 0 ? axis.negate() : axis;
  }

  aim(name, width, height) {
    const camera = this.cameras[name];
    const seen = this.seen[name];
    const { back, high } = this.frame(name);
    const half = this.halfHigh(name, width, height) / seen.zoom;
    seen.mmPerPixel = (2 * half) / height;
    camera.top = half;
    camera.bottom = -half;
    camera.right = (half * width) / height;
    camera.left = -camera.right;
    camera.position.copy(seen.at).addScaledVector(back, 2000);
    camera.up.copy(high);
    camera.lookAt(seen.at);
    camera.updateProjectionMatrix();
    camera.updateMatrixWorld();
    return camera;
  }

  // Half the height that shows the whole box.
  halfHigh(name, width, height) {
    const { high, right } = this.frame(name);
    const { min, max } = this.box;
    let [u, v] = [1, 1];
    const middle = this.box.getCenter(new Vector3());
    for (const x of [min.x, max.x]) for (const y of [min.y, max.y]) for (const z of [min.z, max.z]) {
      const corner = new Vector3(x, y, z).sub(middle);
      u = Math.max(u, Math.abs(corner.dot(right)));
      v = Math.max(v, Math.abs(corner.dot(high)));
    }
    return 1.08 * Math.max(v, (u * height) / width);
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
