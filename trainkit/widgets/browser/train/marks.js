// What lies on the gears of a train: arrows, marks, the lock pin's hole, the numbers of a clock, and the gears' own.
// It is painted under the view, so that walking round the engine turns it over as it does a real gear.

import { turningArrow } from "../kit/strokes.js";
import { under } from "../kit/oblique.js";
import { tooth } from "../kit/involute.js";
import { turnedAt } from "../kit/wheel.js";

/** @import { Gearing } from "./gearing.js" */
/** @import { Oblique } from "../kit/oblique.js" */
/** @import { Scene } from "../kit/stage.js" */
/** @import { Sense } from "./predict.js" */
/** @import { Gear, Train } from "../shapes.js" */

const TURN = 2 * Math.PI;
const UP = Math.PI / 2;

/**
 * @typedef {object} Marked
 * @property {Scene} scene
 * @property {Oblique} view
 * @property {Gearing} gearing
 * @property {Gear} gear
 * @property {number} z of the face that is seen
 */

/**
 * An arrow on a gear, about its top.
 * @param {Marked} marked
 * @param {Sense} sense as seen from the front
 * @param {string} colour
 * @param {number} share of the pitch radius at which it lies
 * @param {boolean} [own] whether the reader set it: it is open
 */
export function paintArrow({ scene, view, gearing, gear, z }, sense, colour, share, own = false) {
  const { x, y, radius } = gearing.place(gear);
  const { pen, ratio } = scene;
  const way = sense === "clockwise" ? -1 : 1;
  const at = share * radius;
  const size = Math.min(9 / view.scale, 0.3 * radius);
  const span = Math.min(0.95, 0.32 + 22 / view.scale / at);
  under(pen, view.plane(z), ratio);
  pen.lineWidth = Math.min(3.2 / view.scale, 0.1 * radius);
  pen.strokeStyle = pen.fillStyle = colour;
  if (own) pen.setLineDash([5 / view.scale, 3 / view.scale]);
  const to = UP + way * (span - size / at);
  turningArrow(pen, x, y, at, UP - way * span, to, size);
  pen.setLineDash([]);
}

/**
 * A gear that waits: a dotted line where its arrow lay.
 * @param {Marked} marked
 * @param {string} colour
 */
export function paintWaiting({ scene, view, gearing, gear, z }, colour) {
  const { x, y, radius } = gearing.place(gear);
  const { pen, ratio } = scene;
  under(pen, view.plane(z), ratio);
  pen.beginPath();
  pen.arc(x, y, 0.62 * radius, UP - 0.5, UP + 0.5);
  pen.lineWidth = 1.8 / view.scale;
  pen.setLineDash([2 / view.scale, 4 / view.scale]);
  pen.strokeStyle = colour;
  pen.stroke();
  pen.setLineDash([]);
}

/**
 * The chalk line, the witness tooth or the hole of a gear, where it stands now, and the place of the pin.
 * @param {Marked} marked
 * @param {NonNullable<Train["hole"]> | null} hole
 */
export function paintMark({ scene, view, gearing, gear, z }, hole) {
  const { x, y, radius } = gearing.place(gear);
  const { pen, ratio, palette } = scene;
  const spur = gearing.spur(gear);
  const angle = gearing.mark(gear);
  under(pen, turnedAt(view.plane(z), x, y, angle), ratio);
  if (gear.id === gearing.watched) {
    pen.fillStyle = palette.ink;
    pen.beginPath();
    for (const [far, lean] of tooth(spur, 4)) pen.lineTo(far * Math.cos(lean), far * Math.sin(lean));
    pen.fill();
    pen.beginPath();
    pen.moveTo(spur.root * 0.985, 0);
    for (const side of [1, -1]) pen.lineTo(spur.root * 0.88, side * spur.module * 1.6);
    pen.fill();
    return;
  }
  if (gear.id === gearing.pin && hole) {
    const every = (TURN / 360) * (hole.every[0] / hole.every[1]);
    const small = Math.max(3.4 / view.scale, radius * 0.11);
    for (let number = 0; number < Math.round(TURN / every); number++) {
      const [u, v] = [0.62 * radius * Math.cos(number * every), 0.62 * radius * Math.sin(number * every)];
      pen.beginPath();
      pen.arc(u, v, small, 0, TURN);
      pen.fillStyle = palette.deep;
      pen.fill();
      pen.lineWidth = 1.5 / view.scale;
      pen.strokeStyle = palette.edge;
      pen.stroke();
    }
    under(pen, view.plane(z), ratio);
    const place = (TURN / 360) * (90 - gear.mark.at);
    pen.beginPath();
    pen.arc(x + 0.62 * radius * Math.cos(place), y + 0.62 * radius * Math.sin(place), small * 1.7, 0, TURN);
    pen.setLineDash([4 / view.scale, 3 / view.scale]);
    pen.strokeStyle = palette.accent;
    pen.stroke();
    pen.setLineDash([]);
    return;
  }
  const [from, to] = gearing.place(gear).inside
    ? [spur.tip + 0.3 * spur.module, spur.tip + 2 * spur.module]
    : [spur.root * 0.87, spur.root * 0.985];
  pen.beginPath();
  pen.moveTo(from, 0);
  pen.lineTo(to, 0);
  pen.lineWidth = 2.6 / view.scale;
  pen.strokeStyle = palette.ink;
  pen.stroke();
}

/**
 * Words that stand upright at a point of the page, with paper round them.
 * @param {Scene} scene
 * @param {[x: number, y: number]} at
 * @param {string} text
 * @param {{ size: number, weight?: number, colour: string }} how
 */
function lettered({ pen, ratio, palette }, [x, y], text, { size, weight = 400, colour }) {
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.font = `${weight} ${size}px system-ui, sans-serif`;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.lineJoin = "round";
  pen.lineWidth = 3;
  pen.strokeStyle = palette.paper;
  pen.strokeText(text, x, y);
  pen.fillStyle = colour;
  pen.fillText(text, x, y);
  pen.lineJoin = "miter";
}

/**
 * The hours of a clock on a gear. They were written from the front and lie on it; whoever stands at the flywheel end
 * reads the same places the other way round, which is written beside them.
 * @param {Marked} marked
 * @param {boolean} other whether the reader stands still at the flywheel end
 */
export function paintHours({ scene, view, gearing, gear, z }, other) {
  const { x, y, radius } = gearing.place(gear);
  const { root } = gearing.spur(gear);
  const size = Math.min(15, Math.max(11, 0.1 * radius * view.scale));
  const step = 1.5 * size;
  const room = root * view.scale;
  if (room < 2.6 * step) return;
  const every = room > 5 * step ? 1 : 3;
  for (let hour = every; hour <= 12; hour += every) {
    const angle = UP - (hour * TURN) / 12;
    /** @param {number} far */
    const at = (far) => view.put(x + far * Math.cos(angle), y + far * Math.sin(angle), z);
    const outer = (room * 0.97 - step * 0.5) / view.scale;
    const front = other ? outer - step / view.scale : outer;
    // At the top and at the bottom both are the same.
    if (other && hour % 6 === 0) {
      lettered(scene, at(outer), String(hour), { size, weight: 700, colour: scene.palette.ink });
      continue;
    }
    lettered(scene, at(front), String(hour), { size: other ? size * 0.85 : size, colour: scene.palette.quiet });
    if (other) {
      lettered(scene, at(outer), String(12 - (hour % 12)), { size, weight: 700, colour: scene.palette.ink });
    }
  }
}

/**
 * The number of a gear in the list.
 * @param {Marked} marked
 * @param {number} number
 */
export function paintNumber({ scene, view, gearing, gear, z }, number) {
  const { radius, number: put } = gearing.place(gear);
  const [u, v] = view.put(...put.at, z);
  if (put.leader) {
    const [a, b] = view.put(...put.leader, z);
    scene.pen.setTransform(scene.ratio, 0, 0, scene.ratio, 0, 0);
    scene.pen.beginPath();
    scene.pen.moveTo(a, b);
    scene.pen.lineTo(u, v);
    scene.pen.lineWidth = 1;
    scene.pen.strokeStyle = scene.palette.quiet;
    scene.pen.stroke();
    scene.pen.beginPath();
    scene.pen.arc(a, b, 2, 0, TURN);
    scene.pen.fillStyle = scene.palette.ink;
    scene.pen.fill();
  }
  const size = radius * view.scale > 40 || put.leader ? 17 : 14;
  lettered(scene, [u, v], String(number), { size, weight: 700, colour: scene.palette.ink });
}
