// How the lock pin is drawn: wall, gear, hole and pin cut along, or closed as the eye has them.

import { mixed } from "../kit/palette.js";
import { head, hatched } from "../kit/strokes.js";

/** @import { Palette } from "../kit/palette.js" */
/** @typedef {CanvasRenderingContext2D} Pen */
/** @typedef {[x: number, y: number, width: number, height: number]} Box */
/** @typedef {"out" | "pressed" | "in" | "broken"} PinPlace */
/**
 * @typedef {object} Cut What is behind the wall, for a case that is cut open.
 * @property {number[]} holes How far ahead of the pin each hole is, in crank degrees; forward they come from above
 * @property {number} clearance The pin goes in while a hole is within this, in crank degrees
 * @property {number} turned Crank degrees that the gear has turned: its hatching goes along
 */
/**
 * @typedef {object} PinLook
 * @property {PinPlace} pin
 * @property {boolean} pressed
 * @property {number} tip How far the pin is in, in units of the drawing
 * @property {number} hand How far the hand is in
 * @property {number} open 1 where the case is cut open, 0 where it is closed
 * @property {Cut | null} cut
 * @property {string} gear What the hole is in, in words
 */

// Units of the drawing, which is scaled to its box.
const WIDE = 404;
const HIGH = 300;
const MIDDLE = 142;
const [WEB, WEB_END, WALL, WALL_END] = [22, 96, 120, 196];
const RADIUS = 24; // of the pin
const DEGREE = 8; // units for one crank degree: a clearance of a quarter is seen
const LONG = 178;
export const TIPS = { out: 0, pressed: 20, in: 74, broken: 74 };
export const HANDS = { out: 0, pressed: 36, in: 84, broken: 84 };

/**
 * A text whose size does not follow the drawing's.
 * @param {Pen} pen
 * @param {string} words
 * @param {number} x
 * @param {number} y
 * @param {{ size?: number, bold?: boolean, colour: string, align?: CanvasTextAlign, scale?: number }} how
 */
export function words(pen, words, x, y, { size = 13, bold = false, colour, align = "left", scale = 1 }) {
  pen.font = `${bold ? 650 : 400} ${size / scale}px system-ui, sans-serif`;
  pen.fillStyle = colour;
  pen.textAlign = align;
  pen.textBaseline = "alphabetic";
  pen.fillText(words, x, y);
}

/**
 * Light across a round part that lies along x.
 * @param {Pen} pen
 * @param {number} radius
 * @param {[at: number, colour: string][]} stops
 */
function across(pen, radius, stops) {
  const light = pen.createLinearGradient(0, MIDDLE - radius, 0, MIDDLE + radius);
  for (const [at, colour] of stops) light.addColorStop(at, colour);
  return light;
}

/** @type {(pen: Pen, palette: Palette, radius: number) => CanvasGradient} */
const round = (pen, { sideLow, sideHigh, faceHigh }, radius) =>
  across(pen, radius, [
    [0, sideLow],
    [0.13, sideHigh],
    [0.32, faceHigh],
    [0.44, faceHigh],
    [0.72, sideHigh],
    [1, sideLow],
  ]);

/**
 * @param {Pen} pen
 * @param {Palette} palette
 * @param {Box} box
 * @param {PinLook} look
 */
export function paintPin(pen, palette, [x, y, width, height], look) {
  const scale = Math.min(width / WIDE, height / HIGH);
  pen.save();
  pen.translate(x, y + (height - HIGH * scale) / 2);
  pen.scale(scale, scale);
  pen.lineJoin = "round";
  const { cut, open } = look;
  if (cut && open > 0.01) {
    inside(pen, palette, cut);
    wall(pen, palette);
  }
  body(pen, palette, look);
  if (!cut || open < 0.99) {
    pen.globalAlpha = cut ? 1 - open : 1;
    closed(pen, palette);
    pen.globalAlpha = 1;
  }
  handle(pen, palette, look);
  names(pen, palette, look, scale);
  pen.restore();
}

const TOP = 26;
const FOOT = 266;

/**
 * The gear behind the wall, cut along, with the holes that are near the pin.
 * @param {Pen} pen
 * @param {Palette} palette
 * @param {Cut} cut
 */
function inside(pen, palette, cut) {
  const radius = RADIUS + Math.max(1, cut.clearance * DEGREE);
  pen.save();
  pen.beginPath();
  pen.rect(0, TOP, WALL, FOOT - TOP);
  pen.clip();
  pen.fillStyle = palette.wallLow;
  pen.fillRect(0, TOP, WALL, FOOT - TOP);
  const middles = cut.holes.map((off) => MIDDLE - off * DEGREE).sort((one, other) => one - other);
  let from = TOP - 40;
  for (const middle of middles) {
    metal(pen, palette, from, middle - radius, cut.turned);
    const light = pen.createLinearGradient(0, middle - radius, 0, middle + radius);
    light.addColorStop(0, palette.deep);
    light.addColorStop(0.7, palette.sideHigh);
    light.addColorStop(1, palette.deep);
    pen.fillStyle = light;
    pen.fillRect(WEB, middle - radius, WEB_END - WEB, 2 * radius);
    from = middle + radius;
  }
  metal(pen, palette, from, FOOT + 40, cut.turned);
  pen.restore();
}

/**
 * @param {Pen} pen
 * @param {Palette} palette
 * @param {number} from
 * @param {number} to
 * @param {number} turned
 */
function metal(pen, palette, from, to, turned) {
  if (to <= from) return;
  const bevel = 5;
  const shape = new Path2D();
  shape.moveTo(WEB + bevel, from);
  shape.lineTo(WEB_END - bevel, from);
  shape.lineTo(WEB_END, from + bevel);
  shape.lineTo(WEB_END, to - bevel);
  shape.lineTo(WEB_END - bevel, to);
  shape.lineTo(WEB + bevel, to);
  shape.lineTo(WEB, to - bevel);
  shape.lineTo(WEB, from + bevel);
  shape.closePath();
  pen.fillStyle = palette.face;
  pen.fill(shape);
  // The lines go down with the gear, so they go to the right where they lean to the right.
  hatched(pen, shape, [WEB, TOP, WEB_END - WEB, FOOT - TOP], { gap: 12, colour: palette.quiet, from: turned * DEGREE });
  pen.strokeStyle = palette.edge;
  pen.lineWidth = 2;
  pen.stroke(shape);
}

/**
 * @param {Pen} pen
 * @param {Palette} palette
 */
function wall(pen, palette) {
  const bore = RADIUS + 1.5;
  const bush = 42;
  /** @type {(box: Box, gap: number, way: 1 | -1, colour: string) => void} */
  const block = (box, gap, way, colour) => {
    const shape = new Path2D();
    shape.rect(...box);
    pen.fillStyle = colour;
    pen.fill(shape);
    hatched(pen, shape, box, { gap, colour: palette.quiet, way });
    pen.strokeStyle = palette.edge;
    pen.lineWidth = 1.8;
    pen.stroke(shape);
  };
  const wide = WALL_END - WALL;
  block([WALL, TOP, wide, MIDDLE - bush - TOP], 15, -1, palette.wall);
  block([WALL, MIDDLE + bush, wide, FOOT - MIDDLE - bush], 15, -1, palette.wall);
  pen.fillStyle = across(pen, bore, [
    [0, palette.deep],
    [0.7, palette.sideHigh],
    [1, palette.deep],
  ]);
  pen.fillRect(WALL - 6, MIDDLE - bore, wide + 18, 2 * bore);
  block([WALL - 6, MIDDLE - bush, wide + 18, bush - bore], 7, 1, palette.face);
  block([WALL - 6, MIDDLE + bore, wide + 18, bush - bore], 7, 1, palette.face);
}

/**
 * @param {Pen} pen
 * @param {Palette} palette
 * @param {PinLook} look
 */
function body(pen, palette, { pin, tip, open, cut }) {
  const at = WEB_END + TIPS.pressed - tip;
  pen.fillStyle = round(pen, palette, RADIUS);
  pen.strokeStyle = pin === "broken" ? palette.danger : palette.edge;
  pen.lineWidth = 1.9;
  if (pin !== "broken") {
    chamfered(pen, at, at + LONG);
    return;
  }
  if (cut && open > 0.5) torn(pen, at, WEB_END + 2, 9);
  torn(pen, WALL - 12, at + LONG, 0);
}

/**
 * @param {Pen} pen
 * @param {number} from
 * @param {number} to
 */
function chamfered(pen, from, to) {
  pen.beginPath();
  pen.moveTo(to, MIDDLE - RADIUS);
  pen.lineTo(from + 9, MIDDLE - RADIUS);
  pen.lineTo(from, MIDDLE - RADIUS + 7);
  pen.lineTo(from, MIDDLE + RADIUS - 7);
  pen.lineTo(from + 9, MIDDLE + RADIUS);
  pen.lineTo(to, MIDDLE + RADIUS);
  pen.closePath();
  pen.fill();
  pen.stroke();
}

/**
 * One half of a pin that has broken: ragged to the right where it was carried down, to the left where it stayed.
 * @param {Pen} pen
 * @param {number} from
 * @param {number} to
 * @param {number} down
 */
function torn(pen, from, to, down) {
  const [end, sound, way] = down ? [to, from, 1] : [from, to, -1];
  pen.save();
  pen.translate(0, down);
  pen.beginPath();
  pen.moveTo(sound, MIDDLE - RADIUS + (down ? 7 : 0));
  if (down) pen.lineTo(sound + 9, MIDDLE - RADIUS);
  pen.lineTo(end - 3 * way, MIDDLE - RADIUS);
  for (const [off, high] of [
    [5, -13],
    [-4, -3],
    [4, 6],
    [-2, 14],
  ]) {
    pen.lineTo(end + off, MIDDLE + high);
  }
  pen.lineTo(end + 3 * way, MIDDLE + RADIUS);
  if (down) pen.lineTo(sound + 9, MIDDLE + RADIUS);
  pen.lineTo(sound, MIDDLE + RADIUS - (down ? 7 : 0));
  pen.closePath();
  pen.fill();
  pen.stroke();
  pen.restore();
}

/**
 * The case as the eye has it: nothing behind it is seen.
 * @param {Pen} pen
 * @param {Palette} palette
 */
function closed(pen, palette) {
  const light = pen.createLinearGradient(0, 0, WALL_END, 0);
  light.addColorStop(0, palette.wallLow);
  light.addColorStop(0.6, palette.wall);
  light.addColorStop(1, palette.face);
  pen.fillStyle = light;
  pen.fillRect(0, TOP, WALL_END, FOOT - TOP);
  pen.strokeStyle = palette.edge;
  pen.lineWidth = 2;
  pen.beginPath();
  pen.moveTo(WALL_END, TOP);
  pen.lineTo(WALL_END, FOOT);
  pen.stroke();
  pen.fillStyle = round(pen, palette, 42);
  pen.fillRect(WALL_END, MIDDLE - 42, 12, 84);
  pen.strokeRect(WALL_END, MIDDLE - 42, 12, 84);
  for (const bolt of [52, 232]) {
    pen.fillStyle = palette.face;
    pen.fillRect(WALL_END, bolt - 12, 10, 24);
    pen.strokeRect(WALL_END, bolt - 12, 10, 24);
  }
}

/**
 * Collar, spring and knob, with the hand behind it.
 * @param {Pen} pen
 * @param {Palette} palette
 * @param {PinLook} look
 */
function handle(pen, palette, { pin, tip, hand, pressed }) {
  const collar = WEB_END + TIPS.pressed - tip + LONG;
  const knob = collar + 76 - (hand - tip);
  pen.strokeStyle = palette.edge;
  pen.fillStyle = round(pen, palette, 32);
  pen.lineWidth = 1.9;
  pen.fillRect(collar - 7, MIDDLE - 32, 17, 64);
  pen.strokeRect(collar - 7, MIDDLE - 32, 17, 64);
  const from = collar + 10;
  pen.fillStyle = round(pen, palette, 8);
  pen.fillRect(from, MIDDLE - 8, knob - from, 16);
  pen.lineWidth = 1.2;
  pen.strokeRect(from, MIDDLE - 8, knob - from, 16);
  const coils = 6;
  const step = (knob - from) / coils;
  const thick = Math.min(5, step * 0.62);
  pen.lineCap = "round";
  for (const [width, colour] of /** @type {[number, string][]} */ ([
    [thick, palette.edge],
    [thick - 1.9, palette.face],
  ])) {
    pen.lineWidth = Math.max(0.6, width);
    pen.strokeStyle = colour;
    pen.beginPath();
    for (let coil = 0; coil < coils; coil++) {
      pen.moveTo(from + step * (coil + 0.15), MIDDLE + 21);
      pen.lineTo(from + step * (coil + 0.75), MIDDLE - 21);
    }
    pen.stroke();
  }
  pen.lineCap = "butt";
  const cap = new Path2D();
  cap.moveTo(knob, MIDDLE - 36);
  cap.lineTo(knob + 18, MIDDLE - 36);
  cap.quadraticCurveTo(knob + 40, MIDDLE - 32, knob + 41, MIDDLE);
  cap.quadraticCurveTo(knob + 40, MIDDLE + 32, knob + 18, MIDDLE + 36);
  cap.lineTo(knob, MIDDLE + 36);
  cap.closePath();
  pen.fillStyle = across(pen, 36, [
    [0, palette.accent],
    [0.32, mixed(palette.accent, "#ffffff", 0.35)],
    [1, mixed(palette.accent, "#000000", 0.25)],
  ]);
  pen.fill(cap);
  pen.strokeStyle = palette.edge;
  pen.lineWidth = 1.8;
  pen.stroke(cap);
  if (pressed && pin !== "broken") {
    pen.fillStyle = pen.strokeStyle = palette.accent;
    pen.lineWidth = 3;
    pen.beginPath();
    pen.moveTo(knob + 76, MIDDLE);
    pen.lineTo(knob + 58, MIDDLE);
    pen.stroke();
    head(pen, knob + 54, MIDDLE, Math.PI, 8);
  }
}

/** @type {Record<PinPlace, string>} */
const PIN_NAMES = { out: "pin, out", pressed: "pin, on metal", in: "pin, in a hole", broken: "pin, broken" };

/**
 * Each part's name under it, with a line to it.
 * @param {Pen} pen
 * @param {Palette} palette
 * @param {PinLook} look
 * @param {number} scale
 */
function names(pen, palette, { pin, tip, open, cut, gear }, scale) {
  /** @type {(name: string, x: number, y: number, toX: number, toY: number, align?: CanvasTextAlign) => void} */
  const named = (name, x, y, toX, toY, align = "center") => {
    pen.strokeStyle = pen.fillStyle = palette.quiet;
    pen.lineWidth = 1 / scale;
    pen.beginPath();
    pen.moveTo(align === "left" ? x + 10 : x, y - 13 / scale);
    pen.lineTo(toX, toY);
    pen.stroke();
    pen.beginPath();
    pen.arc(toX, toY, 2.2 / scale, 0, 2 * Math.PI);
    pen.fill();
    words(pen, name, x, y, { colour: palette.ink, align, scale });
  };
  const low = FOOT + 8 + 13 / scale;
  if (cut && open > 0.5) {
    named(gear, 0, low, 50, FOOT - 16, "left");
    words(pen, "wall", (WALL + WALL_END) / 2, TOP - 5, { colour: palette.ink, align: "center", scale });
  } else {
    named("gear case", 96, low, 96, FOOT - 16);
  }
  const colour = pin === "broken" ? palette.danger : palette.ink;
  const collar = WEB_END + TIPS.pressed - tip + LONG;
  pen.strokeStyle = palette.quiet;
  pen.lineWidth = 1 / scale;
  pen.beginPath();
  pen.moveTo(300, 218);
  pen.lineTo(collar, MIDDLE + 26);
  pen.stroke();
  words(pen, PIN_NAMES[pin], 300, 222 + 13 / scale, { colour, bold: true, align: "center", scale });
}
