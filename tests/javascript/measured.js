// How two gears of a train fit, measured on their outlines alone: by how much the one can be turned between the flanks
// of the other. Negative is how far they cut into each other.

import { halfAt, tooth } from "../../trainkit/widgets/browser/kit/involute.js";

/** @import { Gearing, Mesh } from "../../trainkit/widgets/browser/train/gearing.js" */

const FINE = 240; // points of a flank

/**
 * @param {Gearing} gearing
 * @param {Mesh} mesh
 * @returns {{ ahead: number, behind: number }} radians of the gear that is not the ring, or of the driven one
 */
export function freedom(gearing, { driver, driven, inside }) {
  const ring = inside && gearing.place(driver).inside ? driver : inside ? driven : undefined;
  // The points of the one are looked at from the other: from the ring where there is one.
  const held = ring ?? driven;
  const other = held === driven ? driver : driven;
  const [to, from] = [gearing.place(held), gearing.place(other)];
  const [about, seen] = [gearing.spur(other), gearing.spur(held)];
  const angle = gearing.angle(other);
  const pitch = gearing.pitchPoint({ driver, driven, inside });
  const nearest = Math.round((Math.atan2(pitch[1] - from.y, pitch[0] - from.x) - angle) / about.pitch);
  const one = tooth(about, FINE);
  let [ahead, behind] = [Infinity, Infinity];
  for (let number = nearest - 3; number <= nearest + 3; number++) {
    for (const [far, lean] of one) {
      const at = angle + number * about.pitch + lean;
      const [x, y] = [from.x + far * Math.cos(at) - to.x, from.y + far * Math.sin(at) - to.y];
      const radius = Math.hypot(x, y);
      if (ring ? radius < seen.root : radius > seen.tip) continue;
      if (ring ? radius > seen.tip : radius < seen.root) return { ahead: -1, behind: -1 }; // into the foot
      const off = Math.atan2(y, x) - gearing.angle(held);
      const half = halfAt(seen, Math.max(radius, seen.base));
      const rest = off - seen.pitch * Math.round(off / seen.pitch); // from the middle of the nearest tooth, or space
      if (ring) {
        ahead = Math.min(ahead, half + rest);
        behind = Math.min(behind, half - rest);
      } else {
        const past = ((rest % seen.pitch) + seen.pitch) % seen.pitch; // from the tooth that is clockwise of it
        const within = past < half ? past - half : seen.pitch - past < half ? seen.pitch - past - half : undefined;
        ahead = Math.min(ahead, within ?? past - half);
        behind = Math.min(behind, within ?? seen.pitch - past - half);
      }
    }
  }
  return { ahead, behind };
}
