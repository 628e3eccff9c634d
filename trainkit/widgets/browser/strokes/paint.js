// One cylinder in section: piston, rod, crank, valves and injector. Lengths are units of which a crank radius is 56; the
// middle of the crank is 0, 0 and y points down, as on a canvas.

import { mixed } from "../kit/palette.js";
import { head, hatched } from "../kit/strokes.js";

/** @import { Cylinder, Strokes } from "./cycle.js" */
/** @import { Palette } from "../kit/palette.js" */

const RADIUS = 56;
const BORE = 48; // half of it
const CROWN = 42; // from the gudgeon pin to the top of the piston
const CLEAR = 7; // over the piston at the top
const HEAD = 64; // height of the head
const ABOVE = 46; // what stands out of it
const WALL = 17;
const OUT = 26; // the head beyond the bore
const BELOW = 76; // under the middle of the crank
const ROUND = Math.PI * 2;
// Laid out evenly, always the same: so many dots are a full cylinder of air.
const DOTS = Array.from({ length: 34 }, (_, at) => [(0.5 + at * 0.7548776662) % 1, (0.5 + at * 0.5698402909) % 1]);

/** How high a cylinder is above the middle of its crank, in units. */
/** @param {number} rod in crank radii */
export const above = (rod) => RADIUS * (1 + rod) + CROWN + CLEAR + HEAD + ABOVE;
export const below = BELOW;
export const wide = 2 * (BORE + OUT) + 24;
export const REACH = 84; // of the crank, where it can be taken hold of

/**
 * @param {Palette} hue
 * @param {string} stroke
 */
export const toneOf = (hue, stroke) => ({ power: hue.caution, exhaust: hue.quiet })[stroke] ?? hue.accent;

export class CylinderPaint {
  /**
   * @param {CanvasRenderingContext2D} pen
   * @param {Palette} palette
   * @param {number} rod in crank radii
   */
  constructor(pen, palette, rod) {
    this.pen = pen;
    this.palette = palette;
    this.rod = rod * RADIUS;
    this.top = -(RADIUS + this.rod); // of the gudgeon pin
    this.deck = this.top - CROWN - CLEAR; // the face of the head
  }

  /** What stands still: the walls and the head, cut. */
  housing() {
    const { pen, palette: hue, deck } = this;
    pen.lineJoin = "round";
    const low = -92;
    for (const side of /** @type {(1 | -1)[]} */ ([-1, 1])) {
      const wall = new Path2D();
      wall.rect(side < 0 ? -BORE - WALL : BORE, deck, WALL, low - deck);
      this.cut(wall, [-BORE - WALL, deck, 2 * (BORE + WALL), low - deck], side, 9);
    }
    const block = new Path2D();
    block.rect(-BORE - OUT, deck - HEAD, 2 * (BORE + OUT), HEAD);
    this.cut(block, [-BORE - OUT, deck - HEAD, 2 * (BORE + OUT), HEAD], 1, 10);
    for (const side of [-1, 1]) {
      const x = side * 25;
      const port = new Path2D();
      port.moveTo(x - side * 15, deck);
      port.bezierCurveTo(x - side * 15, deck - 26, x - side * 4, deck - 42, side * (BORE + OUT), deck - 44);
      port.lineTo(side * (BORE + OUT), deck - 20);
      port.bezierCurveTo(x + side * 20, deck - 20, x + side * 15, deck - 12, x + side * 15, deck);
      port.closePath();
      pen.fillStyle = mixed(hue.paper, side < 0 ? hue.accent : hue.quiet, side < 0 ? 0.16 : 0.28);
      pen.fill(port);
      pen.strokeStyle = hue.edge;
      pen.lineWidth = 1.3;
      pen.stroke(port);
    }
    pen.lineWidth = 2;
    pen.stroke(block);
  }

  /**
   * @param {Path2D} shape
   * @param {[number, number, number, number]} box
   * @param {1 | -1} way
   * @param {number} gap
   */
  cut(shape, box, way, gap) {
    const { pen, palette: hue } = this;
    pen.fillStyle = hue.wall;
    pen.fill(shape);
    hatched(pen, shape, box, { gap, colour: hue.quiet, way });
    pen.strokeStyle = hue.edge;
    pen.lineWidth = 1.8;
    pen.stroke(shape);
  }

  /**
   * What moves, over the housing.
   * @param {Strokes} strokes
   * @param {Cylinder} cylinder
   * @param {1 | -1} way 1 where the crank turns clockwise as it is drawn
   * @param {boolean} covered
   */
  moving(strokes, cylinder, way, covered) {
    const { top } = this;
    const stroke = strokes.stroke(cylinder);
    const past = strokes.past(cylinder);
    const pin = top + strokes.drop(cylinder) * RADIUS;
    const angle = (way * past * Math.PI) / 180;
    if (!covered) this.charge(stroke, past, pin - CROWN);
    this.web(angle);
    this.connecting(pin, angle);
    this.piston(pin);
    if (covered) this.cover();
    else {
      const { inlet, exhaust } = strokes.lifts(cylinder);
      this.valve(-1, inlet);
      this.valve(1, exhaust);
      this.injector(strokes.injects(cylinder));
    }
  }

  /**
   * The charge: what its colour says, the dots and the word of the stroke say too.
   * @param {string} stroke
   * @param {number} past
   * @param {number} crown
   */
  charge(stroke, past, crown) {
    const { pen, palette: hue, deck } = this;
    const fire = stroke === "power" ? Math.max(0, 1 - past / 150) : 0;
    const share = { power: 0.12 + 0.6 * fire, exhaust: 0.3, compression: 0.16 + (0.34 * (past - 540)) / 180 }[stroke];
    pen.fillStyle = mixed(hue.paper, toneOf(hue, stroke), share ?? 0.16);
    const tall = crown - deck;
    pen.fillRect(-BORE, deck, 2 * BORE, tall);
    pen.fillRect(-39, deck - 2, 28, 4);
    pen.fillRect(11, deck - 2, 28, 4);
    const filled = stroke === "intake" || stroke === "exhaust" ? tall / (2 * RADIUS + CLEAR) : 1;
    pen.fillStyle = toneOf(hue, stroke);
    pen.beginPath();
    for (const [u, v] of DOTS.slice(0, Math.round(DOTS.length * filled))) {
      const [x, y] = [-BORE + 5 + u * (2 * BORE - 10), deck + 3 + v * Math.max(1, tall - 6)];
      pen.moveTo(x + 2.1, y);
      pen.arc(x, y, 2.1, 0, ROUND);
    }
    pen.fill();
  }

  /** The shine of something round that stands upright. */
  /**
   * @param {number} x
   * @param {number} radius
   */
  shine(x, radius) {
    const { pen, palette: hue } = this;
    const found = pen.createLinearGradient(x - radius, 0, x + radius, 0);
    for (const [at, colour] of /** @type {[number, string][]} */ ([
      [0, hue.sideLow],
      [0.16, hue.sideHigh],
      [0.32, hue.faceHigh],
      [0.44, hue.faceHigh],
      [0.75, hue.sideHigh],
      [1, hue.sideLow],
    ]))
      found.addColorStop(at, colour);
    return found;
  }

  /** @param {string | CanvasGradient} fill */
  solid(fill, line = 1.8) {
    const { pen } = this;
    pen.fillStyle = fill;
    pen.fill();
    pen.strokeStyle = this.palette.edge;
    pen.lineWidth = line;
    pen.stroke();
  }

  /** @param {number} angle */
  web(angle) {
    const { pen, palette: hue } = this;
    pen.save();
    pen.rotate(angle);
    pen.beginPath();
    pen.moveTo(-17, -RADIUS);
    pen.quadraticCurveTo(-20, -14, -34, 10);
    pen.arc(0, 0, 68, Math.PI * 0.82, Math.PI * 0.18, true);
    pen.lineTo(34, 10);
    pen.quadraticCurveTo(20, -14, 17, -RADIUS);
    pen.arc(0, -RADIUS, 17, 0, Math.PI, true);
    pen.closePath();
    this.solid(hue.wallLow);
    pen.restore();
    pen.beginPath();
    pen.arc(0, 0, 17, 0, ROUND);
    this.solid(hue.face);
    pen.setLineDash([10, 3, 2, 3]);
    pen.lineWidth = 1;
    pen.strokeStyle = hue.quiet;
    pen.beginPath();
    pen.arc(0, 0, RADIUS, 0, ROUND);
    pen.moveTo(-REACH, 0);
    pen.lineTo(REACH, 0);
    pen.stroke();
    pen.setLineDash([]);
  }

  /**
   * @param {number} pin
   * @param {number} angle
   */
  connecting(pin, angle) {
    const { pen, palette: hue } = this;
    const [x, y] = [Math.sin(angle) * RADIUS, -Math.cos(angle) * RADIUS];
    const long = Math.hypot(x, y - pin);
    pen.save();
    pen.translate(0, pin);
    pen.rotate(Math.atan2(y - pin, x));
    pen.beginPath();
    pen.moveTo(0, -13);
    pen.bezierCurveTo(20, -13, 24, -8, 40, -8);
    pen.lineTo(long - 34, -11);
    pen.bezierCurveTo(long - 24, -12, long - 22, -20, long, -21);
    pen.arc(long, 0, 21, -Math.PI / 2, Math.PI / 2);
    pen.bezierCurveTo(long - 22, 20, long - 24, 12, long - 34, 11);
    pen.lineTo(40, 8);
    pen.bezierCurveTo(24, 8, 20, 13, 0, 13);
    pen.arc(0, 0, 13, Math.PI / 2, -Math.PI / 2);
    pen.closePath();
    const sheen = pen.createLinearGradient(0, -20, 0, 20);
    sheen.addColorStop(0, hue.sideHigh);
    sheen.addColorStop(0.5, hue.faceHigh);
    sheen.addColorStop(1, hue.sideHigh);
    this.solid(sheen);
    pen.restore();
    pen.beginPath();
    pen.arc(x, y, 12.5, 0, ROUND);
    this.solid(hue.accent);
  }

  /** @param {number} pin */
  piston(pin) {
    const { pen, palette: hue } = this;
    const crown = pin - CROWN;
    pen.beginPath();
    pen.moveTo(-BORE + 1, crown);
    pen.lineTo(-22, crown);
    pen.quadraticCurveTo(-16, crown + 9, -6, crown + 8);
    pen.lineTo(0, crown + 4);
    pen.lineTo(6, crown + 8);
    pen.quadraticCurveTo(16, crown + 9, 22, crown);
    pen.lineTo(BORE - 1, crown);
    pen.lineTo(BORE - 1, pin + 26);
    pen.quadraticCurveTo(0, pin + 8, -BORE + 1, pin + 26);
    pen.closePath();
    this.solid(this.shine(0, BORE), 2);
    pen.fillStyle = hue.edge;
    for (const ring of [11, 18, 25]) pen.fillRect(-BORE + 1, crown + ring, 2 * BORE - 2, 2.6);
    pen.beginPath();
    pen.arc(0, pin, 10, 0, ROUND);
    this.solid(hue.face, 1.6);
  }

  /**
   * @param {number} side -1 is the inlet
   * @param {number} lift
   */
  valve(side, lift) {
    const { pen, palette: hue, deck } = this;
    const x = side * 25;
    const down = lift * 11;
    const top = deck - HEAD;
    pen.beginPath();
    pen.rect(x - 3.2, top - 34 + down, 6.4, HEAD + 28);
    this.solid(this.shine(x, 3.4), 1);
    pen.beginPath();
    pen.moveTo(x - 3, deck - 14 + down);
    pen.quadraticCurveTo(x - 5, deck - 4 + down, x - 16, deck - 1 + down);
    pen.lineTo(x - 16, deck + 3 + down);
    pen.lineTo(x + 16, deck + 3 + down);
    pen.lineTo(x + 16, deck - 1 + down);
    pen.quadraticCurveTo(x + 5, deck - 4 + down, x + 3, deck - 14 + down);
    pen.closePath();
    this.solid(lift > 0.02 ? hue.accent : hue.face, 1.6);
    const [low, high] = [top - 4, top - 28 + down];
    pen.lineWidth = 2;
    pen.beginPath();
    for (let coil = 0; coil <= 4; coil++) {
      const y = low + ((high - low) * coil) / 4;
      pen.moveTo(x - 9, y);
      pen.lineTo(x + 9, y + (coil < 4 ? (high - low) / 8 : 0));
    }
    pen.stroke();
    pen.beginPath();
    pen.rect(x - 12, top - 36 + down, 24, 6);
    this.solid(hue.face, 1.4);
    if (lift < 0.15) return;
    // What flows: in on the left, out on the right.
    pen.strokeStyle = pen.fillStyle = side > 0 ? hue.quiet : hue.accent;
    pen.lineWidth = 2.6;
    const [from, to] = side > 0 ? [BORE + 12, BORE + 34] : [-BORE - 38, -BORE - 16];
    pen.beginPath();
    pen.moveTo(from, deck - 32);
    pen.lineTo(to, deck - 32);
    pen.stroke();
    head(pen, to, deck - 32, 0, 8);
  }

  /** @param {boolean} sprays */
  injector(sprays) {
    const { pen, palette: hue, deck } = this;
    const top = deck - HEAD - 40;
    pen.beginPath();
    for (const [x, y] of [
      [6, top],
      [6, deck - 22],
      [3, deck - 10],
      [2, deck + 2],
    ])
      pen.lineTo(-x, y);
    for (const [x, y] of [
      [2, deck + 2],
      [3, deck - 10],
      [6, deck - 22],
      [6, top],
    ])
      pen.lineTo(x, y);
    pen.closePath();
    this.solid(this.shine(0, 6), 1.5);
    if (!sprays) return;
    pen.strokeStyle = hue.caution;
    pen.lineWidth = 2.6;
    pen.beginPath();
    for (const x of [-30, -12, 12, 30]) {
      pen.moveTo(0, deck + 2);
      pen.lineTo(x, deck + 12);
    }
    pen.stroke();
  }

  /** A cover over head and bore, so that neither valves nor charge are seen. */
  cover() {
    const { pen, palette: hue, deck } = this;
    pen.beginPath();
    pen.roundRect(-BORE - OUT - 2, deck - HEAD - ABOVE + 8, 2 * (BORE + OUT) + 4, HEAD + ABOVE - 8, 8);
    this.solid(hue.wallLow, 2);
    pen.fillStyle = hue.ink;
    pen.font = "600 34px system-ui, sans-serif";
    pen.textAlign = "center";
    pen.fillText("?", 0, deck - HEAD / 2);
  }
}
