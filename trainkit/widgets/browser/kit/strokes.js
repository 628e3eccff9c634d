// Strokes that every picture uses: arrows along an arc, hatching of what is cut.

/**
 * A filled head that points along an angle of the canvas, which is clockwise from the right.
 * @param {CanvasRenderingContext2D} pen
 * @param {number} x
 * @param {number} y
 * @param {number} angle
 * @param {number} size
 */
export function head(pen, x, y, angle, size) {
  pen.beginPath();
  pen.moveTo(x + Math.cos(angle) * size, y + Math.sin(angle) * size);
  for (const side of [1, -1]) {
    pen.lineTo(x + Math.cos(angle + side * 2.55) * size * 0.95, y + Math.sin(angle + side * 2.55) * size * 0.95);
  }
  pen.closePath();
  pen.fill();
}

/**
 * An arc with a head at its end, in the colour that the pen has.
 * @param {CanvasRenderingContext2D} pen
 * @param {number} x
 * @param {number} y
 * @param {number} radius
 * @param {number} from
 * @param {number} to before `from` where it turns anticlockwise
 * @param {number} [size] of the head
 */
export function turningArrow(pen, x, y, radius, from, to, size = 9) {
  pen.beginPath();
  pen.arc(x, y, radius, from, to, to < from);
  pen.stroke();
  const way = Math.sign(to - from);
  head(pen, x + radius * Math.cos(to), y + radius * Math.sin(to), to + (way * Math.PI) / 2, size);
}

/**
 * Hatches a shape that is cut, at 45°, as ISO 128 has it. Two parts that touch are hatched opposite ways.
 * @param {CanvasRenderingContext2D} pen
 * @param {Path2D} shape
 * @param {[x: number, y: number, width: number, height: number]} box that holds it
 * @param {{ gap?: number, colour: string, way?: 1 | -1, from?: number }} how `from` moves the lines along with the part
 */
export function hatched(pen, shape, [x, y, width, height], { gap = 7, colour, way = 1, from = 0 }) {
  pen.save();
  pen.clip(shape);
  const lines = new Path2D();
  const begin = (((from % gap) + gap) % gap) - height;
  for (let at = begin; at < width + height; at += gap) {
    lines.moveTo(x + at, way > 0 ? y + height : y);
    lines.lineTo(x + at + height, way > 0 ? y : y + height);
  }
  pen.strokeStyle = colour;
  pen.lineWidth = 1;
  pen.stroke(lines);
  pen.restore();
}
