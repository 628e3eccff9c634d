// The watched mark on its gear among the fixed marks, and the barring tool, as they are drawn at the lock-pin bench.

import { outline, pathOf, spur, tooth } from "../kit/involute.js";
import { mixed } from "../kit/palette.js";
import { turningArrow } from "../kit/strokes.js";
import { words } from "./paint.js";

/** @import { Spur } from "../kit/involute.js" */
/** @import { Palette } from "../kit/palette.js" */
/** @import { Box, Pen } from "./paint.js" */
/** @import { DialMark } from "../shapes.js" */
/**
 * @typedef {object} Face
 * @property {number} at Where the mark stands, degrees clockwise from twelve
 * @property {boolean} clockwise when the engine is barred forward
 * @property {DialMark[]} marks
 */
/**
 * @typedef {object} Tool
 * @property {boolean} fitted
 * @property {number} angle Degrees clockwise from straight up
 * @property {number} bend Degrees by which its end is ahead of the pinion
 * @property {[ring: number, pinion: number] | null} teeth of the ring gear and the pinion, where it has them
 * @property {number} ring Degrees that the ring gear has turned clockwise
 * @property {"clockwise" | "anticlockwise" | ""} forward the way the bar goes forward, where that is known
 * @property {number} hot 0 where it is free, 1 where it is about to shear the pin
 */

const RADIAN = Math.PI / 180;
const TEETH = 44;
const HOUR = 30;
const ROOM_FOR_WORDS = 60; // pixels of radius: within less, the mark would run over them
const RIM = 44; // pixels that the ring gear's rim is high

/** @param {string} at a clock position, such as 2:15 */
export function clockDegrees(at) {
  const [hours, minutes] = at.split(":").map(Number);
  return ((hours % 12) + minutes / 60) * HOUR;
}

/** @type {Map<string, { spur: Spur, path: Path2D }>} */
const gears = new Map();
/**
 * A gear's outline, drawn once for each size.
 * @param {number} teeth
 * @param {number} radius
 */
function gearOf(teeth, radius) {
  const key = `${teeth} ${radius}`;
  let made = gears.get(key);
  if (!made) {
    const shape = spur(teeth, (2 * radius) / teeth);
    made = { spur: shape, path: pathOf(outline(shape, 4)) };
    if (gears.size > 12) gears.clear(); // sizes of windows that are gone
    gears.set(key, made);
  }
  return made;
}

/**
 * Places of labels down one side, none nearer to the next than a gap.
 * @param {number[]} wanted in their order
 * @param {number} gap
 * @param {number} low
 * @param {number} high
 */
export function spread(wanted, gap, low, high) {
  const placed = [...wanted];
  for (let at = 0; at < placed.length; at++) {
    placed[at] = Math.max(placed[at], at ? placed[at - 1] + gap : low);
  }
  for (let at = placed.length - 1; at >= 0; at--) {
    placed[at] = Math.min(placed[at], at < placed.length - 1 ? placed[at + 1] - gap : high);
  }
  return placed;
}

/**
 * @param {Pen} pen
 * @param {Palette} palette
 * @param {Box} box
 * @param {Face} face
 */
export function paintFace(pen, palette, [x, y, width, height], face) {
  const marks = face.marks.map((mark) => ({ ...mark, angle: clockDegrees(mark.at) }));
  const right = marks.filter(({ angle }) => angle <= 180);
  const left = marks.filter(({ angle }) => angle > 180);
  const room = 76; // for the words of one side
  const sides = (right.length ? 1 : 0) + (left.length ? 1 : 0);
  const radius = Math.max(34, Math.round(Math.min((width - room * sides - 30) / 2, (height - 36) / 2)));
  const free = width - room * sides - 2 * radius;
  const cx = x + (left.length ? room : 0) + free / 2 + radius;
  const cy = y + height / 2;
  /** @type {(angle: number, far: number) => [x: number, y: number]} */
  const put = (angle, far) => [cx + far * Math.sin(angle * RADIAN), cy - far * Math.cos(angle * RADIAN)];

  const body = gearOf(TEETH, radius - 5);
  pen.save();
  pen.translate(cx, cy);
  pen.rotate((face.at - 90) * RADIAN);
  const light = pen.createRadialGradient(0, 0, radius * 0.2, 0, 0, radius);
  light.addColorStop(0, palette.faceLow);
  light.addColorStop(0.6, palette.faceHigh);
  light.addColorStop(1, palette.face);
  pen.fillStyle = light;
  pen.fill(body.path);
  pen.strokeStyle = palette.edge;
  pen.lineWidth = 1.5;
  pen.stroke(body.path);
  pen.fillStyle = palette.accent;
  const one = pathOf(
    tooth(body.spur, 4).map(([far, angle]) => [
      (far > body.spur.reference ? far + 3 : far) * Math.cos(angle),
      (far > body.spur.reference ? far + 3 : far) * Math.sin(angle),
    ]),
  );
  pen.fill(one);
  pen.stroke(one);
  pen.beginPath();
  const long = Math.min(20, radius * 0.26);
  pen.moveTo(radius - 14, 0);
  pen.lineTo(radius - 14 - long, -0.4 * long);
  pen.lineTo(radius - 14 - long, 0.4 * long);
  pen.closePath();
  pen.fill();
  pen.stroke();
  pen.beginPath();
  pen.arc(0, 0, radius * 0.16, 0, 2 * Math.PI);
  pen.fillStyle = palette.paper;
  pen.fill();
  pen.stroke();
  pen.restore();

  pen.strokeStyle = pen.fillStyle = palette.accent;
  pen.lineWidth = 2.2;
  const way = face.clockwise ? 1 : -1;
  turningArrow(pen, cx, cy, radius * 0.44, -Math.PI / 2 - way * 0.8, -Math.PI / 2 + way * 0.8, 7);
  if (radius > ROOM_FOR_WORDS) {
    const below = cy + radius * 0.16 + 16;
    words(pen, "forward", cx, below, { colour: palette.accent, size: 12, bold: true, align: "center" });
  }

  for (const [side, group] of /** @type {[1 | -1, typeof marks][]} */ ([
    [1, right],
    [-1, left],
  ])) {
    const ordered = [...group].sort((a, b) => put(a.angle, 1)[1] - put(b.angle, 1)[1]);
    const wanted = ordered.map(({ angle }) => put(angle, radius + 16)[1]);
    const rows = spread(wanted, 31, y + 16, y + height - 18);
    ordered.forEach(({ at, label, angle }, place) => {
      const edge = cx + side * (radius + 22);
      const row = rows[place];
      pen.strokeStyle = palette.ink;
      pen.lineWidth = 2.6;
      pen.beginPath();
      pen.moveTo(...put(angle, radius + 2));
      pen.lineTo(...put(angle, radius + 11));
      pen.stroke();
      pen.strokeStyle = palette.quiet;
      pen.lineWidth = 1;
      pen.beginPath();
      pen.moveTo(...put(angle, radius + 12));
      pen.lineTo(edge, row - 3);
      pen.stroke();
      /** @type {CanvasTextAlign} */
      const align = side > 0 ? "left" : "right";
      words(pen, at, edge + side * 4, row, { colour: palette.ink, size: 14, bold: true, align });
      words(pen, label, edge + side * 4, row + 14, { colour: palette.quiet, size: 12, align });
    });
  }
}

/**
 * The tool, and where its end is: there a hand takes hold of it.
 * @param {Pen} pen
 * @param {Palette} palette
 * @param {Box} box
 * @param {Tool} tool
 * @returns {{ pivot: [x: number, y: number], end: [x: number, y: number], long: number }}
 */
export function paintTool(pen, palette, [x, y, width, height], tool) {
  const geared = tool.teeth !== null;
  const long = Math.max(44, Math.min(width / 2 - 18, geared ? height * 0.4 : height * 0.5));
  /** @type {[number, number]} */
  const pivot = [x + width / 2, y + (geared ? Math.min(height * 0.5, long + 22) : height * 0.68)];
  pen.save();
  pen.beginPath();
  pen.rect(x, y, width, height);
  pen.clip();
  if (tool.teeth) ring(pen, palette, pivot, tool.teeth, tool, y + height);
  else hub(pen, palette, pivot, long, tool.fitted ? ends(x, width, tool.forward) : null);
  pen.restore();
  const up = tool.fitted ? tool.angle : 0;
  /** @type {(degrees: number, far: number) => [x: number, y: number]} */
  const put = (degrees, far) => [
    pivot[0] + far * Math.sin(degrees * RADIAN),
    pivot[1] - far * Math.cos(degrees * RADIAN),
  ];
  const end = tool.fitted ? put(up + tool.bend, long) : /** @type {[number, number]} */ ([x + width - 20, y + 16]);
  const foot = tool.fitted ? pivot : /** @type {[number, number]} */ ([x + 20, y + 16]);
  const middle = tool.fitted ? put(up, long * 0.55) : /** @type {[number, number]} */ ([x + width / 2, y + 16]);
  pen.lineCap = "round";
  const colour = tool.hot > 0.1 ? mixed(palette.accent, palette.caution, tool.hot) : palette.accent;
  for (const [thick, shade] of /** @type {[number, string][]} */ ([
    [12, palette.edge],
    [9, colour],
  ])) {
    pen.beginPath();
    pen.moveTo(...foot);
    pen.quadraticCurveTo(...middle, ...end);
    pen.lineWidth = thick;
    pen.strokeStyle = shade;
    pen.stroke();
  }
  pen.lineCap = "butt";
  pen.beginPath();
  pen.arc(...end, 13, 0, 2 * Math.PI);
  pen.fillStyle = colour;
  pen.fill();
  pen.lineWidth = 1.6;
  pen.strokeStyle = palette.edge;
  pen.stroke();
  pen.beginPath();
  pen.arc(...end, 5, 0, 2 * Math.PI);
  pen.strokeStyle = palette.paper;
  pen.stroke();
  pen.beginPath();
  pen.arc(...pivot, 9, 0, 2 * Math.PI);
  pen.fillStyle = palette.sideHigh;
  pen.fill();
  pen.strokeStyle = palette.edge;
  pen.stroke();
  return { pivot, end, long };
}

/**
 * Where the words for back and forward stand, and at which end of them their line is. Where nothing tells which way a
 * hand goes, to the right is forward.
 * @param {number} x
 * @param {number} width
 * @param {Tool["forward"]} forward
 * @returns {[text: string, x: number, align: CanvasTextAlign][]}
 */
function ends(x, width, forward) {
  const [left, right] = forward === "anticlockwise" ? ["forward", "back"] : ["back", "forward"];
  return [
    [left, x + 2, "left"],
    [right, x + width - 2, "right"],
  ];
}

/**
 * @param {Pen} pen
 * @param {Palette} palette
 * @param {[x: number, y: number]} pivot
 * @param {number} long
 * @param {ReturnType<typeof ends> | null} told null where no bar is on
 */
function hub(pen, palette, [x, y], long, told) {
  if (told) {
    pen.strokeStyle = pen.fillStyle = palette.quiet;
    pen.lineWidth = 1.4;
    const up = -Math.PI / 2;
    for (const way of [1, -1]) turningArrow(pen, x, y, long * 0.72, up + way * 0.3, up + way * 1.1, 7);
    for (const [text, at, align] of told) words(pen, text, at, y + 40, { colour: palette.quiet, size: 12, align });
  }
  pen.beginPath();
  pen.arc(x, y, 24, 0, 2 * Math.PI);
  pen.fillStyle = palette.face;
  pen.fill();
  pen.strokeStyle = palette.edge;
  pen.lineWidth = 1.6;
  pen.stroke();
}

/**
 * The rim of the ring gear, with the pinion of the tool in it. The bar goes the other way, and further.
 * @param {Pen} pen
 * @param {Palette} palette
 * @param {[x: number, y: number]} pivot
 * @param {[ring: number, pinion: number]} teeth
 * @param {Tool} tool
 * @param {number} foot
 */
function ring(pen, palette, [x, y], [rim, few], tool, foot) {
  const small = gearOf(few, 30);
  const large = gearOf(rim, (30 * rim) / few);
  const far = small.spur.reference + large.spur.reference;
  const quarter = Math.PI / 2;
  const turned = tool.ring * RADIAN;
  /** @type {(gear: typeof small, cx: number, cy: number, angle: number) => void} */
  const put = (gear, cx, cy, angle) => {
    pen.save();
    pen.translate(cx, cy);
    pen.rotate(angle);
    pen.fillStyle = palette.face;
    pen.fill(gear.path);
    pen.strokeStyle = palette.edge;
    pen.lineWidth = 1.5;
    pen.stroke(gear.path);
    pen.restore();
  };
  // A tooth of the ring gear points up at the start, into a space of the pinion.
  put(large, x, y + far, -quarter + turned);
  pen.beginPath();
  pen.arc(x, y + far, large.spur.root - RIM, 0, 2 * Math.PI);
  pen.fillStyle = palette.paper;
  pen.fill();
  pen.stroke();
  put(small, x, y, quarter + small.spur.pitch / 2 - (turned * rim) / few);
  if (!tool.forward) return;
  const way = tool.forward === "clockwise" ? -1 : 1; // the ring gear goes against the bar
  pen.strokeStyle = pen.fillStyle = palette.accent;
  pen.lineWidth = 2.2;
  const inner = large.spur.root - 12;
  turningArrow(pen, x, y + far, inner, -quarter - way * 0.16, -quarter + way * 0.14, 7);
  words(pen, "forward", x, Math.min(foot - 8, y + far - inner + 20), {
    colour: palette.accent,
    size: 12,
    bold: true,
    align: "center",
  });
}
