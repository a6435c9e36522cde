// A view as it is seen, with its names, on a canvas of its own: to keep as a file or to print.

import { bench } from "../bench/bench.js";
import { make } from "../paper/make.js";

export function pictureOf(stage, eye) {
  const { frame } = stage.frameOf(eye);
  const [box, all] = [frame.getBoundingClientRect(), stage.root.getBoundingClientRect()];
  const ratio = stage.renderer?.getPixelRatio() ?? 1;
  const canvas = make("canvas", { width: Math.round(box.width * ratio), height: Math.round(box.height * ratio) });
  const at = canvas.getContext("2d");
  at.scale(ratio, ratio);
  if (stage.renderer) at.drawImage(stage.canvas, (box.left - all.left) * ratio, (box.top - all.top) * ratio, box.width * ratio, box.height * ratio, 0, 0, box.width, box.height);
  at.textBaseline = "middle";
  at.textAlign = "center";
  for (const label of frame.querySelectorAll(".labels > :not(.leader)")) {
    const place = label.getBoundingClientRect();
    const looks = getComputedStyle(label);
    const [x, y] = [place.left - box.left, place.top - box.top];
    at.font = `${looks.fontWeight} ${looks.fontSize} ${looks.fontFamily}`;
    if (looks.backgroundColor !== "rgba(0, 0, 0, 0)") {
      at.fillStyle = looks.backgroundColor;
      at.fillRect(x, y, place.width, place.height);
    }
    at.fillStyle = looks.color;
    at.fillText(label.textContent, x + place.width / 2, y + place.height / 2);
  }
  return canvas;
}

// Which machine, in which pose, and what this is not.
export const underIt = () => `${bench.state.title}: ${document.querySelector(".pose-words b")?.textContent ?? ""}. An estimate, no certificate.`;
