// The living picture of a gear train: a wall with gears of real teeth before it, that any of them drives, and that one
// can walk round to the flywheel end.

import { along, bandRound, paintWall } from "../kit/case.js";
import { lobes } from "../kit/cycloid.js";
import { Oblique } from "../kit/oblique.js";
import { pointed, stage } from "../kit/stage.js";
import { WheelPainter, ringOf, rotorOf, sprocketOf, wheelOf } from "../kit/wheel.js";
import { paintBlock, paintChain, paintFlywheel } from "./body.js";
import { paintArrow, paintHours, paintMark, paintNumber, paintWaiting } from "./marks.js";

/** @import { Disc, Wall } from "../kit/case.js" */
/** @import { Scene } from "../kit/stage.js" */
/** @import { Wheel } from "../kit/wheel.js" */
/** @import { Gearing, Mesh } from "./gearing.js" */
/** @import { Prediction, Sense } from "./predict.js" */
/** @import { Gear, Train } from "../shapes.js" */

const TURN = 2 * Math.PI;
const ROOM = 14; // pixels round the picture
const EDGE_ON = 0.3; // a face that is seen more from the side than this cannot be turned by hand
const STILL = 1e-3;

/**
 * @typedef {object} Look What is shown besides the gears, as it stands now.
 * @property {Mesh | undefined} mesh that is magnified
 * @property {Prediction} prediction
 * @property {Train["hole"]} hole
 */

export class TrainView {
  /**
   * @param {Gearing} gearing
   * @param {Look} look
   */
  constructor(gearing, look) {
    this.gearing = gearing;
    this.look = look;
    this.turned = 0; // radians of the walk: 0 at the front, π at the flywheel end
    const most = Math.max(...gearing.gears.map((gear) => gearing.place(gear).radius));
    this.thick = 0.15 * most;
    this.layer = 1.55 * this.thick;
    this.order = [...gearing.gears].sort((one, other) => this.z(one) - this.z(other));
    this.discs = gearing.gears.map((gear) => this.disc(gear));
    const edge = bandRound(this.discs, 0.11 * most);
    this.wall = this.walled(edge, most);
    // Numbers beside the gears are in the picture too.
    const beside = gearing.gears.map((gear) => gearing.place(gear).number.at);
    const xs = [...edge.map(([x]) => x), ...beside.flatMap(([x]) => [x - 0.1 * most, x + 0.1 * most])];
    const ys = [...edge.map(([, y]) => y), ...beside.flatMap(([, y]) => [y - 0.1 * most, y + 0.1 * most])];
    /** @type {[left: number, low: number, right: number, high: number]} */
    this.box = [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
    this.length = 1.15 * (this.box[2] - this.box[0]);
    this.painter = new WheelPainter();
    /** @type {Map<Gear, Wheel>} */
    this.wheels = new Map();
    this.reshape();
    this.view = new Oblique({ scale: 1, middle: [0, 0] });
    this.stage = stage((scene) => this.draw(scene), "tk-train-canvas");
    const tall = (this.box[3] - this.box[1]) / (this.box[2] - this.box[0]);
    this.stage.canvas.style.aspectRatio = String(1 / Math.min(0.95, Math.max(0.62, tall * 1.02)));
    this.baked = document.createElement("canvas");
    this.bakedFor = "";
  }

  /** @param {Gear} gear of its face that looks to the front */
  z(gear) {
    return this.gearing.place(gear).level * this.layer;
  }

  /**
   * @param {Gear} gear
   * @returns {Disc}
   */
  disc(gear) {
    const { x, y, inside } = this.gearing.place(gear);
    const { tip, module } = this.gearing.spur(gear);
    return { x, y, reach: inside ? tip + 2.2 * module : tip, z: this.z(gear), hollow: inside ? tip : 0 };
  }

  /**
   * @param {[x: number, y: number][]} edge
   * @param {number} most
   * @returns {Wall}
   */
  walled(edge, most) {
    const centre = edge.reduce(([a, b], [x, y]) => [a + x / edge.length, b + y / edge.length], [0, 0]);
    const inwards = edge.map(([x, y]) => {
      const far = Math.hypot(x - centre[0], y - centre[1]);
      const share = (far - 0.05 * most) / far;
      return /** @type {[number, number]} */ ([
        centre[0] + (x - centre[0]) * share,
        centre[1] + (y - centre[1]) * share,
      ]);
    });
    const z = -this.thick - 0.35 * this.thick;
    return { edge, bolts: along(inwards, 14), bolt: 0.034 * most, z, thick: 0.7 * this.thick };
  }

  /** The outlines are others: lash is drawn larger, or true again. */
  reshape() {
    for (const gear of this.gearing.gears) {
      this.wheels.set(gear, this.made(gear));
    }
    this.painter.sheens.clear();
  }

  /** @param {Gear} gear */
  made(gear) {
    const spur = this.gearing.spur(gear);
    const { inside } = this.gearing.place(gear);
    if (this.gearing.lobed.has(gear)) return inside ? ringOf(spur, lobes(spur.teeth, spur.reference)) : rotorOf(spur);
    if (inside) return ringOf(spur);
    return (this.gearing.sprockets.has(gear) ? sprocketOf : wheelOf)(spur);
  }

  /** Whether the faces that look to the front are seen. */
  get front() {
    return this.view.front;
  }

  /** Whether the reader stands still at one of both ends. */
  get resting() {
    return this.turned < STILL || this.turned > Math.PI - STILL;
  }

  /**
   * What has to fit: at both ends the gears alone, and from the side the whole engine.
   * @param {Oblique} view
   */
  bounds(view) {
    const [left, low, right, high] = this.box;
    const corners = [left, right].flatMap((x) => [low, high].map((y) => /** @type {[number, number]} */ ([x, y])));
    const sides = [0, -this.length].map((z) => corners.map(([x, y]) => view.put(x, y, z)));
    const whole = Math.min(1, 1.5 * Math.sin(this.turned) ** 2);
    /** @type {(of: (...values: number[]) => number, axis: number) => number} */
    const bound = (of, axis) => {
      const [near, far] = sides.map((side) => of(...side.map((point) => point[axis])));
      return near + whole * (of(near, far) - near);
    };
    return [bound(Math.min, 0), bound(Math.min, 1), bound(Math.max, 0), bound(Math.max, 1)];
  }

  /** @param {Scene} scene */
  stand({ width, height }) {
    const { turned } = this;
    /** @type {[number, number, number]} */
    const pivot = [(this.box[0] + this.box[2]) / 2, (this.box[1] + this.box[3]) / 2, -this.length / 2];
    const [left, top, right, bottom] = this.bounds(new Oblique({ scale: 1, middle: [0, 0], pivot, turned }));
    const scale = Math.min((width - 2 * ROOM) / (right - left), (height - 2 * ROOM) / (bottom - top));
    /** @type {[number, number]} */
    const middle = [width / 2 - ((left + right) / 2) * scale, height / 2 - ((top + bottom) / 2) * scale];
    const before = this.view;
    this.view = new Oblique({ scale, middle, pivot, turned });
    if (scale === before.scale && turned === before.turned && String(middle) === String(before.middle)) return;
    // Where the gears are on the canvas, for whoever has to find them without eyes.
    const found = this.gearing.gears.map((gear) => {
      const { x, y, radius } = this.gearing.place(gear);
      return [gear.id, [...this.view.put(x, y, this.z(gear)), radius * scale].map(Math.round)];
    });
    this.stage.canvas.dataset.gears = JSON.stringify(Object.fromEntries(found));
  }

  /** @param {Scene} scene */
  draw(scene) {
    this.stand(scene);
    if (scene.fresh) this.painter.renew(scene.palette);
    const still = this.turned < STILL;
    if (still) this.bakedWall(scene);
    /** @type {[z: number, paint: () => void][]} */
    const parts = this.order.map((gear) => [this.z(gear), () => this.gear(scene, gear)]);
    for (const [driven] of this.gearing.chains)
      parts.push([this.z(driven) + 0.1, () => paintChain(this.drawn(scene), driven)]);
    if (!still) {
      parts.push([this.wall.z, () => paintWall(scene, this.view, this.wall, this.discs)]);
      parts.push(
        [-this.length / 2, () => paintBlock(this.drawn(scene))],
        [-this.length, () => paintFlywheel(this.drawn(scene))],
      );
    }
    parts.sort(([one], [other]) => (this.front ? one - other : other - one));
    for (const [, paint] of parts) paint();
    this.over(scene);
    scene.pen.setTransform(1, 0, 0, 1, 0, 0);
  }

  /**
   * Seen from the front, the wall and the shade on it stand still: they are painted once.
   * @param {Scene} scene
   */
  bakedWall(scene) {
    const { width, height, ratio, palette } = scene;
    const now = [width, height, ratio, palette.paper].join();
    if (now !== this.bakedFor) {
      this.bakedFor = now;
      this.baked.width = Math.round(width * ratio);
      this.baked.height = Math.round(height * ratio);
      const pen = /** @type {CanvasRenderingContext2D} */ (this.baked.getContext("2d", { alpha: false }));
      pen.fillStyle = palette.paper;
      pen.fillRect(0, 0, this.baked.width, this.baked.height);
      paintWall({ ...scene, pen }, this.view, this.wall, this.discs);
    }
    scene.pen.setTransform(1, 0, 0, 1, 0, 0);
    scene.pen.drawImage(this.baked, 0, 0);
  }

  /**
   * @param {Scene} scene
   * @param {Gear} gear
   */
  gear(scene, gear) {
    const { x, y } = this.gearing.place(gear);
    const held = gear === this.gearing.turning.held;
    const standing = { x, y, z: this.z(gear), thick: this.thick, angle: this.gearing.angle(gear) };
    const wheel = /** @type {Wheel} */ (this.wheels.get(gear));
    const { palette } = scene;
    this.painter.paint(scene, this.view, wheel, standing, held ? palette.accent : palette.edge, held ? 1.7 : 1);
    const marked = this.marked(scene, gear);
    paintMark(marked, this.look.hole);
    if (gear.id === this.gearing.hours && !this.edgeOn) paintHours(marked, this.turned > Math.PI - STILL);
    this.arrows(marked);
  }

  /**
   * @param {Scene} scene
   * @param {Gear} gear
   */
  marked(scene, gear) {
    const z = this.view.front ? this.z(gear) : this.z(gear) - this.thick;
    return { scene, view: this.view, gearing: this.gearing, gear, z };
  }

  /** @param {ReturnType<TrainView["marked"]>} marked */
  arrows(marked) {
    const { gear, scene } = marked;
    const { palette } = scene;
    const { prediction } = this.look;
    const { turning } = this.gearing;
    const own = prediction.arrows.get(gear);
    const outcome = prediction.outcome(gear);
    const moved = turning.moved.get(gear.id);
    if (prediction.state === "setting") {
      if (gear === prediction.given)
        paintArrow(marked, gear.clockwise ? "clockwise" : "anticlockwise", palette.accent, 0.62);
      else if (own) paintArrow(marked, own, palette.ink, 0.62, true);
      else paintWaiting(marked, palette.ink);
      return;
    }
    if (own && outcome && turning.way > 0) {
      paintArrow(marked, own, outcome === "wrong" ? palette.caution : palette.settled, 0.46, true);
    }
    if (moved) {
      /** @type {Sense} */
      const sense = moved > 0 === gear.clockwise ? "clockwise" : "anticlockwise";
      paintArrow(marked, sense, palette.accent, outcome ? 0.7 : 0.62);
    } else if (turning.moved.get(turning.held.id)) paintWaiting(marked, palette.quiet);
  }

  /**
   * What is painted by others, and how it stands.
   * @param {Scene} scene
   */
  drawn(scene) {
    const { view, gearing, thick, length, box, turned, wall } = this;
    return { scene, view, gearing, thick, length, box, turned, wall, z: (/** @type {Gear} */ gear) => this.z(gear) };
  }

  /** Whether the faces are seen too much from the side for a hand or for numbers. */
  get edgeOn() {
    return Math.abs(this.view.plane(0)[0]) < EDGE_ON * this.view.scale;
  }

  /** @param {Scene} scene the gears' numbers, and which mesh is magnified */
  over(scene) {
    if (this.edgeOn) return;
    const { pen, ratio, palette } = scene;
    const { mesh } = this.look;
    if (mesh) {
      const z = this.marked(scene, mesh.driver).z;
      const [u, v] = this.view.put(...this.gearing.pitchPoint(mesh), z);
      pen.setTransform(ratio, 0, 0, ratio, 0, 0);
      pen.beginPath();
      pen.arc(u, v, Math.max(9, 0.09 * this.gearing.place(mesh.driver).radius * this.view.scale), 0, TURN);
      pen.lineWidth = 1.8;
      pen.strokeStyle = palette.accent;
      pen.stroke();
    }
    for (const [at, gear] of this.gearing.gears.entries()) {
      const marked = this.marked(scene, gear);
      // From behind, other gears are covered than those the numbers were placed for: what is not seen has no number.
      const { number } = this.gearing.place(gear);
      const foot = this.view.put(...(number.leader ?? number.at), marked.z);
      if (this.front || this.found(foot, 0) === gear) paintNumber(marked, at + 1);
    }
  }

  /**
   * The gear at a place of the canvas, the nearest one.
   * @param {[x: number, y: number]} at
   * @param {number} [room] pixels round it that count too
   */
  found(at, room = 5) {
    if (this.edgeOn) return undefined;
    const nearest = this.front ? [...this.order].reverse() : this.order;
    return nearest.find((gear) => {
      const { x, y, reach } = this.disc(gear);
      const [u, v] = this.view.found(...at, this.z(gear) - (this.front ? 0 : this.thick));
      const far = Math.hypot(u - x, v - y);
      const { inside, radius } = this.gearing.place(gear);
      return far < reach + room / this.view.scale && !(inside && far < 0.93 * radius);
    });
  }

  /**
   * At which angle a pointer stands from a gear's middle, in degrees anticlockwise as seen from the front.
   * @param {Gear} gear
   * @param {{ clientX: number, clientY: number }} event
   */
  bearing(gear, event) {
    const { x, y } = this.gearing.place(gear);
    const [u, v] = this.view.found(...pointed(this.stage.canvas, event), this.z(gear));
    return (Math.atan2(v - y, u - x) * 360) / TURN;
  }
}
