// All cylinders of an engine side by side, each drawn upright, and below them the strokes of two crank turns.

import { CYCLE, SIGNS, degrees, turned } from "./cycle.js";
import { CylinderPaint, REACH, above, below, toneOf, wide } from "./paint.js";
import { mixed } from "../kit/palette.js";

/** @import { Cylinder, DeadCentre, Strokes } from "./cycle.js" */
/** @import { Scene } from "../kit/stage.js" */

const NARROWEST = 92; // pixels for one cylinder
const WORDS = 64; // above each cylinder
const LARGEST = 0.74; // pixels to a unit, and less where there is more than one row
const LARGEST_OF_MANY = 0.6;
const ROW = 24; // of the strip
const MARGIN = 10;
const SHORT = { power: "pow.", exhaust: "exh.", intake: "int.", compression: "compr." };
const FONT = "system-ui, sans-serif";

export class StrokesView {
  /**
   * @param {Strokes} strokes
   * @param {1 | -1} way 1 where the crank turns clockwise as it is drawn
   */
  constructor(strokes, way) {
    this.strokes = strokes;
    this.way = way;
    this.covered = false;
    this.layout = this.#laid(700);
    /** @type {OffscreenCanvas | HTMLCanvasElement | undefined} */
    this.housing = undefined;
  }

  /** @param {number} width */
  #laid(width) {
    const count = this.strokes.cylinders.length;
    const rows = Math.ceil(count / Math.max(1, Math.floor(width / NARROWEST)));
    const columns = Math.ceil(count / rows);
    const cell = width / columns;
    const scale = Math.min(cell / wide, rows > 1 ? LARGEST_OF_MANY : LARGEST);
    const tall = WORDS + (above(this.strokes.rod) + below) * scale + 8;
    const strip = rows * tall + 34;
    const left = Math.min(76, 40 + width / 20);
    return {
      ...{ width, columns, cell, scale, tall },
      strip: { left, top: strip, width: width - left - MARGIN },
      height: Math.ceil(strip + count * (ROW + 2) + 34),
    };
  }

  /** How high the picture must be. */
  /** @param {number} width */
  heightFor(width) {
    if (width !== this.layout.width) this.layout = this.#laid(width);
    return this.layout.height;
  }

  /** Where the cranks are: x, y and how far from there they can be taken hold of. */
  get cranks() {
    return this.strokes.cylinders.map((_, place) => {
      const { x, y } = this.crankAt(place);
      return [x, y, REACH * this.layout.scale].map(Math.round);
    });
  }

  /** The middle of the crank of a cylinder. */
  /** @param {number} place */
  crankAt(place) {
    const { columns, cell, tall, scale } = this.layout;
    const row = Math.floor(place / columns);
    const inRow = Math.min(columns, this.strokes.cylinders.length - row * columns);
    const x = this.layout.width / 2 + (place - row * columns - (inRow - 1) / 2) * cell;
    return { x, y: row * tall + WORDS + above(this.strokes.rod) * scale };
  }

  /**
   * What is taken hold of at a place: a crank, or an angle of the strip.
   * @param {[u: number, v: number]} place
   * @returns {{ crank: { x: number, y: number } } | { angle: number } | null}
   */
  held([u, v]) {
    const { strip, scale } = this.layout;
    if (v > strip.top - 22 && u > strip.left - 12) return { angle: this.angleAt(u) };
    for (const place of this.strokes.cylinders.keys()) {
      const crank = this.crankAt(place);
      if (Math.hypot(u - crank.x, v - crank.y) < REACH * scale) return { crank };
    }
    return null;
  }

  /** @param {number} u */
  angleAt(u) {
    const { left, width } = this.layout.strip;
    return Math.max(0, Math.min(CYCLE - 0.1, ((u - left) / width) * CYCLE));
  }

  /** @param {Scene} scene */
  draw(scene) {
    const { pen, palette, ratio, fresh } = scene;
    const { scale } = this.layout;
    const rod = this.strokes.rod;
    if (fresh || !this.housing) this.housing = this.#bake(scene);
    for (const [place, cylinder] of this.strokes.cylinders.entries()) {
      const { x, y } = this.crankAt(place);
      pen.drawImage(
        this.housing,
        x - (wide / 2) * scale,
        y - above(rod) * scale,
        wide * scale,
        (above(rod) + below) * scale,
      );
      pen.setTransform(scale * ratio, 0, 0, scale * ratio, x * ratio, y * ratio);
      new CylinderPaint(pen, palette, rod).moving(this.strokes, cylinder, this.way, this.covered);
      pen.setTransform(ratio, 0, 0, ratio, 0, 0);
      this.#words(scene, cylinder, place);
    }
    if (!this.covered) this.#strip(scene);
    else {
      pen.fillStyle = palette.quiet;
      pen.font = `15px ${FONT}`;
      pen.textAlign = "left";
      pen.fillText("The strokes are covered, too.", this.layout.strip.left, this.layout.strip.top + 17);
    }
  }

  /** @param {Scene} scene */
  #bake({ palette, ratio }) {
    const { scale } = this.layout;
    const rod = this.strokes.rod;
    const baked = document.createElement("canvas");
    baked.width = Math.ceil(wide * scale * ratio);
    baked.height = Math.ceil((above(rod) + below) * scale * ratio);
    const pen = /** @type {CanvasRenderingContext2D} */ (baked.getContext("2d"));
    pen.setTransform(scale * ratio, 0, 0, scale * ratio, (wide / 2) * scale * ratio, above(rod) * scale * ratio);
    new CylinderPaint(pen, palette, rod).housing();
    return baked;
  }

  /**
   * @param {Scene} scene
   * @param {Cylinder} cylinder
   * @param {number} place
   */
  #words({ pen, palette: hue }, cylinder, place) {
    const { cell, tall, columns } = this.layout;
    const x = this.crankAt(place).x;
    const y = Math.floor(place / columns) * tall;
    const { at, off } = this.strokes.centre(cylinder);
    const stroke = this.strokes.stroke(cylinder);
    pen.textAlign = "center";
    pen.fillStyle = hue.ink;
    pen.font = `650 15px ${FONT}`;
    pen.fillText(cell < 110 ? `Cyl. ${cylinder.number}` : `Cylinder ${cylinder.number}`, x, y + 16);
    if (this.covered) return;
    pen.font = `600 14px ${FONT}`;
    pen.fillStyle = toneOf(hue, stroke);
    pen.fillText(stroke, x, y + 35);
    const near = Math.abs(off) <= 25;
    pen.font = `${near ? 650 : 400} 13px ${FONT}`;
    pen.fillStyle = near ? hue.ink : hue.quiet;
    const words = off === 0 ? "at" : `${degrees(off)} ${off < 0 ? "before" : "after"}`;
    const long = pen.measureText(words).width + 20;
    pen.textAlign = "left";
    pen.fillText(words, x - long / 2, y + 54);
    triangle(pen, hue, x + long / 2 - 7, y + 54, at, near ? 1 : 0.8);
  }

  /** @param {Scene} scene */
  #strip({ pen, palette: hue }) {
    const { left, top, width } = this.layout.strip;
    const { cylinders } = this.strokes;
    const at = (/** @type {number} */ angle) => left + (angle / CYCLE) * width;
    const crank = turned(this.strokes.crank);
    const strengths = { power: 0.34, exhaust: 0.22, intake: 0.1, compression: 0.3 };
    for (const [row, cylinder] of cylinders.entries()) {
      const y = top + row * (ROW + 2);
      pen.textAlign = "right";
      pen.font = `14px ${FONT}`;
      pen.fillStyle = hue.quiet;
      pen.fillText(`cyl. ${cylinder.number}`, left - 12, y + 17);
      for (const [place, name] of /** @type {const} */ (["power", "exhaust", "intake", "compression"]).entries()) {
        for (const again of [-CYCLE, 0]) {
          const begins = cylinder.fires_at + place * 180 + again;
          const [from, to] = [Math.max(0, begins), Math.min(CYCLE, begins + 180)];
          if (to <= from) continue;
          pen.fillStyle = mixed(hue.paper, toneOf(hue, name), strengths[name]);
          pen.fillRect(at(from), y, at(to) - at(from) - 1.5, ROW);
          const now = crank >= from && crank < to;
          pen.font = `${now ? 700 : 400} 13px ${FONT}`;
          // Room for a triangle at either end.
          const fits = [name, SHORT[name]].find((words) => pen.measureText(words).width < at(to) - at(from) - 18);
          pen.fillStyle = hue.ink;
          pen.textAlign = "center";
          if (fits) pen.fillText(fits, at((from + to) / 2), y + 17);
        }
      }
      for (const [centre, off] of /** @type {[DeadCentre, number][]} */ ([
        ["compression", 0],
        ["exhaust", 360],
      ])) {
        const angle = turned(cylinder.fires_at + off);
        triangle(pen, hue, at(angle), y + ROW - 4, centre);
        if (angle === 0) triangle(pen, hue, at(CYCLE), y + ROW - 4, centre);
      }
    }
    const low = top + cylinders.length * (ROW + 2);
    pen.textAlign = "center";
    pen.font = `13px ${FONT}`;
    pen.fillStyle = hue.quiet;
    for (let angle = 0; angle <= CYCLE; angle += width > 500 ? 90 : 180) {
      pen.fillText(`${angle}°`, Math.min(at(angle), left + width - 6), top - 18);
      pen.fillRect(at(angle) - 0.5, top - 6, 1, 5);
    }
    pen.strokeStyle = pen.fillStyle = hue.accent;
    pen.lineWidth = 2.4;
    pen.beginPath();
    pen.moveTo(at(crank), top - 6);
    pen.lineTo(at(crank), low);
    pen.stroke();
    pen.beginPath();
    pen.moveTo(at(crank), top);
    pen.lineTo(at(crank) - 8, top - 14);
    pen.lineTo(at(crank) + 8, top - 14);
    pen.closePath();
    pen.fill();
    pen.textAlign = "left";
    pen.font = `13px ${FONT}`;
    let x = Math.min(left, 16);
    for (const centre of /** @type {DeadCentre[]} */ (["compression", "exhaust"])) {
      const words = width < 400 ? centre : `${centre} dead centre`;
      triangle(pen, hue, x + 7, low + 20, centre);
      pen.fillStyle = hue.quiet;
      pen.fillText(words, x + 19, low + 20);
      x += pen.measureText(words).width + 38;
    }
  }
}

/**
 * Filled for compression, open for exhaust, as everywhere.
 * @param {CanvasRenderingContext2D} pen
 * @param {import("../kit/palette.js").Palette} hue
 * @param {number} x
 * @param {number} y of its foot
 * @param {keyof typeof SIGNS} centre
 * @param {number} [size]
 */
function triangle(pen, hue, x, y, centre, size = 1) {
  pen.beginPath();
  pen.moveTo(x - 7 * size, y);
  pen.lineTo(x + 7 * size, y);
  pen.lineTo(x, y - 13 * size);
  pen.closePath();
  pen.fillStyle = centre === "compression" ? hue.ink : hue.paper;
  pen.fill();
  pen.strokeStyle = hue.ink;
  pen.lineWidth = 1.6;
  pen.stroke();
}
