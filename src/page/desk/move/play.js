// Plays a joint from stop to stop and back. Who asked the system for less motion gets steps instead.

import { bench } from "../bench/bench.js";

const SECONDS = 5;

export class Play {
  playing = null;
  onchange = () => {};

  toggle(body) {
    this.playing = this.playing === body.name ? null : body.name;
    this.onchange();
    if (!this.playing) return;
    const { from, to } = body.joint;
    const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
    const start = performance.now();
    const share = (bench.values[body.name] - from) / (to - from || 1);
    // Begins where the joint stands.
    const phase = Math.acos(1 - 2 * Math.min(Math.max(share, 0), 1));
    let last = 0;
    const step = (now) => {
      if (this.playing !== body.name) return;
      if (!calm || now - last > 700) {
        last = now;
        const turn = phase + (2 * Math.PI * (now - start)) / (1000 * SECONDS);
        bench.turn({ [body.name]: from + ((to - from) * (1 - Math.cos(turn))) / 2 });
      }
      requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
  }
}
