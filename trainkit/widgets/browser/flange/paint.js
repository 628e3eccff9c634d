// How a part on its seal is painted, from the back to the front. view.js says where everything is.

import { mixed } from "../kit/palette.js";

/** @import { FlangeView, Point, Spot } from "./view.js" */
/** @import { Palette } from "../kit/palette.js" */

export const LARGER = 9; // a gap of 1 mm is drawn as so many units
export const THICK = 24;
const PRESSED = 0.8; // mm
const TONES = 14; // of the light on something round: few fills are quick, and no step is seen
const WASHER = 2.5;
const ROUND = Math.PI * 2;

/** One picture: how each part is painted. */
export class Paint {
  /**
   * @param {FlangeView} view
   * @param {CanvasRenderingContext2D} pen
   * @param {Palette} palette
   * @param {number} line
   */
  constructor(view, pen, palette, line) {
    this.view = view;
    this.pen = pen;
    this.palette = palette;
    this.line = line;
  }

  /**
   * @param {Point[]} points
   * @param {string} fill
   * @param {number} [line]
   */
  face(points, fill, line = this.line) {
    const { pen, view } = this;
    pen.beginPath();
    for (const point of points) pen.lineTo(...view.put(point));
    pen.closePath();
    pen.fillStyle = fill;
    pen.fill();
    if (!line) return;
    pen.strokeStyle = this.palette.edge;
    pen.lineWidth = line;
    pen.stroke();
  }

  /**
   * The side of something round, which is lit from the left.
   * @param {Point[]} low
   * @param {Point[]} high
   * @param {string} dark
   * @param {string} lit
   */
  side(low, high, dark, lit) {
    const { pen, view } = this;
    const below = low.map((point) => view.put(point));
    const above = high.map((point) => view.put(point));
    const count = below.length;
    /** @type {number[]} */
    const seen = [];
    /** @type {Map<number, Path2D>} */
    const bands = new Map();
    for (let one = 0; one < count; one++) {
      const two = (one + 1) % count;
      const along = below[two][0] - below[one][0];
      if (along <= 0) continue;
      seen.push(one);
      const slope = (below[two][1] - below[one][1]) / along; // down to the right is the left side of what is round
      const light = Math.max(0, Math.min(1, 0.5 + 0.55 * (slope / Math.hypot(slope, 0.45))));
      const tone = Math.round(light * TONES);
      const band = bands.get(tone) ?? new Path2D();
      bands.set(tone, band);
      band.moveTo(...below[one]);
      band.lineTo(below[two][0] + 0.6, below[two][1]);
      band.lineTo(above[two][0] + 0.6, above[two][1]);
      band.lineTo(...above[one]);
      band.closePath();
    }
    for (const [tone, band] of bands) {
      pen.fillStyle = mixed(dark, lit, (tone / TONES) ** 0.9);
      pen.fill(band);
    }
    // The outline: down where it turns away on the left, along below, and up on the right.
    const first = seen.reduce((one, each) => (below[each][0] < below[one][0] ? each : one), seen[0] ?? 0);
    pen.beginPath();
    pen.moveTo(...above[first]);
    let at = first;
    for (let gone = 0; gone <= count; gone++) {
      pen.lineTo(...below[at]);
      const two = (at + 1) % count;
      if (below[two][0] - below[at][0] <= 0) break;
      at = two;
    }
    pen.lineTo(...above[at]);
    pen.strokeStyle = this.palette.edge;
    pen.lineWidth = this.line;
    pen.stroke();
  }

  /** The engine's face with its pad, the shade on it, and the seal. */
  base() {
    const { view, palette: hue, pen } = this;
    /**
     * @param {Spot[]} round
     * @param {number} z
     */
    const at = (round, z) => round.map(([x, y]) => /** @type {Point} */ ([x, y, z]));
    this.side(at(view.block, -30), at(view.block, -8), hue.wallLow, hue.wall);
    this.face(at(view.block, -8), hue.wall);
    this.side(at(view.pad, -8), at(view.pad, 0), hue.sideLow, hue.sideHigh);
    this.face(at(view.pad, 0), hue.faceHigh);
    this.face(
      view.edge.map(([x, y]) => [x * 0.99 + 5, y * 0.99 - 6, 0]),
      hue.shadow,
      0,
    );
    pen.beginPath();
    for (const [x, y] of view.sealEdge) pen.lineTo(...view.put([x, y, 1]));
    pen.closePath();
    for (const [x, y] of [...view.seal].reverse()) pen.lineTo(...view.put([x, y, 1]));
    pen.fillStyle = mixed(hue.paper, hue.ink, hue.dark ? 0.3 : 0.7);
    pen.fill("evenodd");
  }

  /** What is seen in the gap: dark, and the seal, pressed as thin as it is there. */
  gap() {
    const { view, palette: hue, pen } = this;
    const free = view.seating.joint.free * LARGER;
    const seen = this.seen();
    const mouth = new Path2D();
    for (const [one, two] of seen) {
      mouth.moveTo(...view.put([...one, 0]));
      mouth.lineTo(...view.put([...two, 0]));
      mouth.lineTo(...view.put([...two, view.under(...two)]));
      mouth.lineTo(...view.put([...one, view.under(...one)]));
      mouth.closePath();
    }
    pen.save();
    pen.clip(mouth);
    pen.fillStyle = mixed("#000000", hue.ink, hue.dark ? 0.05 : 1);
    pen.fill(mouth);
    const share = view.seating.joint.seal_at[0];
    const [dark, lit] = hue.dark ? ["#2e3a42", "#6d7d86"] : ["#566770", "#93a3ab"];
    const wall = new Path2D();
    for (const [one, two] of seen) {
      const [a, b] = [one, two].map(([x, y]) => /** @type {Spot} */ ([x * share, y * share]));
      wall.moveTo(...view.put([...a, 0]));
      wall.lineTo(...view.put([...b, 0]));
      wall.lineTo(...view.put([...b, Math.min(free, view.under(...b))]));
      wall.lineTo(...view.put([...a, Math.min(free, view.under(...a))]));
      wall.closePath();
    }
    const reach = 110 * view.scale;
    const sheen = pen.createLinearGradient(view.middle[0] - reach, 0, view.middle[0] + reach, 0);
    sheen.addColorStop(0, lit);
    sheen.addColorStop(1, dark);
    pen.fillStyle = pen.strokeStyle = sheen;
    pen.lineWidth = 0.7;
    pen.fill(wall);
    pen.stroke(wall);
    pen.restore();
  }

  /** The stretches of the edge that look at the reader. */
  seen() {
    const { view } = this;
    const spots = view.edge.map(([x, y]) => view.put([x, y, 0]));
    /** @type {[Spot, Spot][]} */
    const found = [];
    for (const [one, spot] of spots.entries()) {
      const two = (one + 1) % spots.length;
      if (spots[two][0] > spot[0]) found.push([view.edge[one], view.edge[two]]);
    }
    return found;
  }

  /** The part itself, its lower edge coloured by how wide it gapes there. */
  part() {
    const { view, palette: hue, pen } = this;
    const low = view.edge.map(([x, y]) => /** @type {Point} */ ([x, y, view.under(x, y)]));
    const high = low.map(([x, y, z]) => /** @type {Point} */ ([x, y, z + THICK]));
    this.side(low, high, hue.sideLow, hue.sideHigh);
    const [from, to] = [view.put([-98, 98, THICK]), view.put([98, -98, THICK])];
    const sheen = pen.createLinearGradient(...from, ...to);
    for (const [at, colour] of /** @type {[number, string][]} */ ([
      [0, hue.faceHigh],
      [0.55, hue.face],
      [1, hue.faceLow],
    ]))
      sheen.addColorStop(at, colour);
    this.face(high, hue.face, this.line * 1.25);
    pen.fillStyle = sheen;
    pen.fill();
    pen.stroke();
    if (view.seating.level && view.seating.widest.gap > 0.12) return;
    pen.lineWidth = Math.max(2.5, 2.2 * view.scale);
    for (const [one, two] of this.seen()) {
      const gap = view.under(...one) / LARGER;
      pen.strokeStyle =
        gap < 0.9
          ? mixed(hue.settled, hue.caution, Math.max(0, (gap - 0.3) / 0.6))
          : mixed(hue.caution, hue.danger, Math.min(1, (gap - 0.9) / 1.6));
      pen.beginPath();
      pen.moveTo(...view.put([...one, view.under(...one)]));
      pen.lineTo(...view.put([...two, view.under(...two)]));
      pen.stroke();
    }
  }

  /** Bolts and the stub in the middle, those at the back first. */
  solids() {
    const { view } = this;
    const back = (/** @type {Spot} */ [x, y]) => x * Math.sin(view.yaw) + y * Math.cos(view.yaw);
    const solids = view.bolts.map((place, bolt) => ({ back: back(place), paint: () => this.bolt(bolt) }));
    if (view.stub) solids.push({ back: 0, paint: () => this.middle() });
    for (const { paint } of solids.sort((one, other) => other.back - one.back)) paint();
  }

  /**
   * @param {Spot} place
   * @param {number} radius
   * @param {number} from height over the part
   * @param {number} to
   * @param {string} top
   */
  drum([x, y], radius, from, to, top) {
    const { view, palette: hue } = this;
    const ring = (/** @type {number} */ over) =>
      Array.from({ length: 32 }, (_, at) => {
        const turn = (at * ROUND) / 32;
        return view.onTop(x + radius * Math.cos(turn), y + radius * Math.sin(turn), over);
      });
    this.side(ring(from), ring(to), hue.sideLow, hue.faceHigh);
    this.face(ring(to), top);
  }

  middle() {
    const { view, palette: hue } = this;
    const r = view.stub;
    this.drum([0, 0], r, 0, 7, hue.face);
    this.drum([0, 0], r * 0.77, 7, 34, hue.faceHigh);
    this.drum([0, 0], r * 0.32, 34, 42, hue.face);
  }

  /** @param {number} bolt */
  bolt(bolt) {
    const { view, palette: hue, pen } = this;
    const [x, y] = view.bolts[bolt];
    const stage = view.seating.stages[bolt];
    const share = (stage + 1) / view.seating.joint.stages.length;
    const loose = 5 * Math.max(0, 1 - view.turns[bolt] / 2.6);
    const r = view.head;
    this.drum([x, y], r * 1.24, 0, WASHER, hue.face);
    if (loose > 0.3) this.drum([x, y], r * 0.56, WASHER, WASHER + loose, hue.face);
    const foot = WASHER + loose;
    const corners = (/** @type {number} */ over) =>
      Array.from({ length: 6 }, (_, at) => {
        const turn = (at * ROUND) / 6 - view.turns[bolt];
        return view.onTop(x + r * Math.cos(turn), y + r * Math.sin(turn), over);
      });
    const [low, high] = [corners(foot), corners(foot + 0.88 * r)];
    this.side(low, high, hue.sideLow, hue.faceHigh);
    const tone = share === 0 ? hue.faceHigh : mixed(hue.face, hue.ink, share === 1 ? 1 : 0.2 + 0.4 * share);
    this.face(high, tone);
    const [u, v] = view.put(view.onTop(x, y, foot + 0.88 * r));
    view.drawnAt[bolt] = [u, v + 3];
    pen.font = `700 ${Math.max(10.5, Math.min(17, r * view.scale * 0.62))}px system-ui, sans-serif`;
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.fillStyle = share === 1 || (share > 0.4 && hue.dark) ? hue.paper : hue.ink;
    pen.fillText(view.seating.joint.names[bolt], u, v + 0.5);
    pen.textBaseline = "alphabetic";
    if (bolt !== view.seating.last) return;
    pen.beginPath();
    pen.ellipse(u, v + 0.4 * r * view.scale, 1.5 * r * view.scale, 0.9 * r * view.scale, 0, 0, ROUND);
    pen.strokeStyle = hue.accent;
    pen.lineWidth = 2.4;
    pen.stroke();
  }

  /**
   * The widest and the narrowest gap that is in view, on leaders.
   * @param {number} width
   * @param {number} tall
   */
  labels(width, tall) {
    const { view, palette: hue, pen } = this;
    const spots = this.seen().map(([one]) => ({ one, gap: Math.max(0, view.under(...one) / LARGER) }));
    const wide = spots.reduce((best, each) => (each.gap > best.gap ? each : best), spots[0]);
    const thin = spots.reduce((best, each) => (each.gap < best.gap ? each : best), spots[0]);
    const off = (/** @type {{ one: Spot }} */ { one }) => view.put([...one, 0])[0] - width / 2;
    pen.textAlign = "center";
    /**
     * @param {number} x
     * @param {number} gap
     * @param {string} words
     */
    const say = (x, gap, words) => {
      pen.fillStyle = hue.ink;
      pen.font = "650 19px system-ui, sans-serif";
      pen.fillText(`${gap.toFixed(1)}\u2009mm`, x, tall - 24);
      pen.fillStyle = hue.quiet;
      pen.font = "14px system-ui, sans-serif";
      pen.fillText(words, x, tall - 6);
    };
    if (wide.gap - thin.gap < 0.12) {
      say(76, wide.gap, "gap all round");
      return;
    }
    const pairs = /** @type {[typeof wide, string][]} */ ([[wide, "gapes"]]);
    if (Math.sign(off(wide)) !== Math.sign(off(thin)))
      pairs.push([thin, thin.gap < PRESSED ? "pressed together" : "less here"]);
    for (const [spot, words] of pairs) {
      const x = off(spot) < 0 ? 66 : width - 66;
      const [u, v] = view.put([...spot.one, view.under(...spot.one)]);
      pen.strokeStyle = hue.quiet;
      pen.lineWidth = 1;
      pen.beginPath();
      pen.moveTo(u, v);
      pen.lineTo(x, tall - 44);
      pen.stroke();
      pen.beginPath();
      pen.arc(u, v, 3, 0, ROUND);
      pen.fillStyle = hue.ink;
      pen.fill();
      say(x, spot.gap, words);
    }
  }
}
