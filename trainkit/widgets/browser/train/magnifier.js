// One mesh, much enlarged: the same flanks as in the picture, the air between them, where they touch and who pushes.

import { tooth } from "../kit/involute.js";
import { mixed } from "../kit/palette.js";
import { stage } from "../kit/stage.js";
import { hatched, head } from "../kit/strokes.js";

/** @import { Gearing, Mesh } from "./gearing.js" */
/** @import { Scene } from "../kit/stage.js" */
/** @import { Gear } from "../shapes.js" */

const TURN = 2 * Math.PI;
const MODULES = 8.4; // across the glass
const TEETH = 3; // to either side

export class Magnifier {
  /**
   * @param {Gearing} gearing
   * @param {{ mesh: Mesh | undefined }} look
   * @param {() => boolean} behind whether the reader stands at the flywheel end
   */
  constructor(gearing, look, behind) {
    this.gearing = gearing;
    this.look = look;
    this.behind = behind;
    this.stage = stage((scene) => this.draw(scene), "tk-magnified");
  }

  /** @param {Scene} scene */
  draw(scene) {
    const { mesh } = this.look;
    if (!mesh) return;
    const { pen, width, height, palette } = scene;
    const size = Math.min(width, height);
    const middle = [width / 2, height / 2];
    const [px, py] = this.gearing.pitchPoint(mesh);
    const scale = size / (MODULES * this.gearing.spur(mesh.driver).module);
    const mirror = this.behind() ? -1 : 1;
    /** @type {(x: number, y: number) => [number, number]} */
    const put = (x, y) => [middle[0] + mirror * (x - px) * scale, middle[1] - (y - py) * scale];
    pen.save();
    const glass = new Path2D();
    glass.arc(middle[0], middle[1], size / 2 - 2, 0, TURN);
    pen.fillStyle = palette.wall;
    pen.fill(glass);
    pen.clip(glass);
    for (const gear of [mesh.driver, mesh.driven]) {
      const path = this.outline(gear, [px, py], put);
      pen.fillStyle = gear === mesh.driver ? palette.faceLow : palette.faceHigh;
      pen.fill(path, "evenodd");
      if (gear === mesh.driver) {
        hatched(pen, path, [0, 0, width, height], {
          gap: 9,
          colour: mixed(palette.paper, palette.ink, 0.3),
          way: mirror > 0 ? 1 : -1,
        });
      }
      pen.strokeStyle = palette.edge;
      pen.lineWidth = 2;
      pen.lineJoin = "round";
      pen.stroke(path);
      const { x, y, radius } = this.gearing.place(gear);
      pen.beginPath();
      pen.arc(...put(x, y), radius * scale, 0, TURN);
      pen.setLineDash([14, 3, 2, 3]);
      pen.lineWidth = 1;
      pen.strokeStyle = palette.quiet;
      pen.stroke();
      pen.setLineDash([]);
    }
    this.pushes(scene, mesh, put);
    pen.restore();
    pen.lineWidth = 2.4;
    pen.strokeStyle = palette.accent;
    pen.stroke(glass);
  }

  /**
   * The teeth of a gear about the pitch point, closed well away from it.
   * @param {Gear} gear
   * @param {[x: number, y: number]} about
   * @param {(x: number, y: number) => [number, number]} put
   */
  outline(gear, about, put) {
    const { x, y, inside } = this.gearing.place(gear);
    const spur = this.gearing.spur(gear);
    const angle = this.gearing.angle(gear);
    const towards = Math.atan2(about[1] - y, about[0] - x);
    const nearest = Math.round((towards - angle) / spur.pitch);
    const one = tooth(spur, 12);
    const path = new Path2D();
    for (let number = nearest - TEETH; number <= nearest + TEETH; number++) {
      for (const [far, lean] of one) {
        const at = angle + number * spur.pitch + lean;
        path.lineTo(...put(x + far * Math.cos(at), y + far * Math.sin(at)));
      }
    }
    const far = inside ? spur.tip + 6 * spur.module : spur.root - 6 * spur.module;
    for (const side of [1, -1]) {
      const at = angle + (nearest + side * (TEETH + 0.5)) * spur.pitch;
      path.lineTo(...put(x + far * Math.cos(at), y + far * Math.sin(at)));
    }
    path.closePath();
    return path;
  }

  /**
   * Line of action, contacts and the push.
   * @param {Scene} scene
   * @param {Mesh} mesh
   * @param {(x: number, y: number) => [number, number]} put
   */
  pushes({ pen, palette }, mesh, put) {
    const { points, push, pitch } = this.gearing.contact(mesh);
    if (!points.length) return;
    const { module } = this.gearing.spur(mesh.driver);
    pen.strokeStyle = pen.fillStyle = palette.accent;
    pen.setLineDash([5, 4]);
    pen.lineWidth = 1;
    pen.beginPath();
    for (const way of [-1, 1])
      pen.lineTo(...put(pitch[0] + way * 5 * module * push[0], pitch[1] + way * 5 * module * push[1]));
    pen.stroke();
    pen.setLineDash([]);
    for (const [x, y] of points) {
      const from = put(x, y);
      const to = put(x + 1.25 * module * push[0], y + 1.25 * module * push[1]);
      pen.lineWidth = 3.4;
      pen.beginPath();
      pen.moveTo(...from);
      pen.lineTo(...to);
      pen.stroke();
      head(pen, ...to, Math.atan2(to[1] - from[1], to[0] - from[0]), 9);
      pen.beginPath();
      pen.arc(...from, 5, 0, TURN);
      pen.fill();
      pen.lineWidth = 1.5;
      pen.strokeStyle = palette.paper;
      pen.stroke();
      pen.strokeStyle = palette.accent;
    }
  }

  /** What is to be seen in the glass. */
  words() {
    const { mesh } = this.look;
    if (!mesh) return "";
    const { turning } = this.gearing;
    const { driver, driven } = mesh;
    const enlarged = turning.size > 1 ? ` Lash is drawn ${turning.size} times as large.` : "";
    const { side } = this.gearing.contact(mesh);
    const forth = turning.forth(driven);
    const [pusher, pushed] = forth ? [driver, driven] : [driven, driver];
    const taken = turning.moved.get(pushed.id);
    if (side && (taken || !turning.moved.get(pusher.id))) {
      const way = turning.way > 0 ? "forward" : "back";
      return `The flanks touch. The ${pusher.name} pushes the ${pushed.name} ${way}.${enlarged}`;
    }
    const left = turning.left(driven) / turning.size;
    const whose = pushed === driven ? "" : ` of the ${driven.name}`;
    return `Air between the flanks: the ${pushed.name} waits for ${left.toFixed(2)}°${whose}.${enlarged}`;
  }
}
