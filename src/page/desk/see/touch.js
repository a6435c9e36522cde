// What a finger touches in a view: simple shapes as they are drawn; a scan, which is drawn thinned, as the program has it.

import { Matrix4, Raycaster, Vector2 } from "../three/three.module.min.js";
import { get } from "../link/call.js";

// How near to a bare point of a scan [pixel].
const NEAR = 8;

// The place in front, {point, distance, part}, or null. `only`: the name of the one part that counts.
export async function touch(stage, eye, at, frame, only = null) {
  const caster = new Raycaster();
  caster.setFromCamera(new Vector2((at.x / frame.clientWidth) * 2 - 1, 1 - (at.y / frame.clientHeight) * 2), stage.eyes.cameras[eye]);
  const { ray } = caster;
  const near = NEAR * stage.eyes.seen[eye].mmPerPixel;
  const meshes = stage.machine.meshes.filter((mesh) => !only || mesh.userData.part.name === only);
  const scanned = (mesh) => mesh.userData.part.kind === "scan";
  const met = caster.intersectObjects(meshes.filter((mesh) => !scanned(mesh)), false)[0];
  const hits = met ? [{ point: met.point, distance: met.distance, part: met.object.userData.part }] : [];
  for (const mesh of meshes.filter(scanned)) {
    const { part } = mesh.userData;
    const point = await onScan(part, ray, near, stage.pose.stances[part.body] ?? new Matrix4());
    if (point) hits.push({ point, distance: point.clone().sub(ray.origin).dot(ray.direction), part });
  }
  return hits.sort((a, b) => a.distance - b.distance)[0] ?? null;
}

// The program knows a scan as it lies at rest.
async function onScan(part, ray, near, stance) {
  const home = ray.clone().applyMatrix4(stance.clone().invert());
  const asked = new URLSearchParams({ part: part.name, from: JSON.stringify(home.origin.toArray()), toward: JSON.stringify(home.direction.toArray()), near });
  const { at_mm: at } = await get(`touch?${asked}`);
  return at && home.origin.clone().fromArray(at).applyMatrix4(stance);
}
