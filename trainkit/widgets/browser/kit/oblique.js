// One projection for every picture: oblique, and turned about a vertical axis. Faces that look at the reader keep their
// true shape, at the front and at the flywheel end, so 2:30 on the clock stands at 2:30. Every plane across the shafts
// is one affine map: a gear is a path under a transform, and pointing at it is the inverse.
//
// Lengths are millimetres: x to the right and y up as seen from the front, z towards the reader who stands in front.

const ACROSS = -0.17; // so much to the left goes what lies nearer by 1
const UP = -0.2; // and so much down

/** @typedef {[a: number, b: number, c: number, d: number, e: number, f: number]} Affine As of a canvas transform */

export class Oblique {
  /**
   * @param {object} place
   * @param {number} place.scale Pixels to a millimetre
   * @param {[x: number, y: number]} place.middle Where the pivot stands on the canvas
   * @param {[x: number, y: number, z: number]} [place.pivot] What the view turns about
   * @param {number} [place.turned] Radians; 0 is from the front, π from the flywheel end
   */
  constructor({ scale, middle, pivot = [0, 0, 0], turned = 0 }) {
    this.scale = scale;
    this.middle = middle;
    this.pivot = pivot;
    this.turned = turned;
  }

  /** Whether the faces that look to the front are seen; they turn away a little after a right angle. */
  get front() {
    return this.plane(0)[0] > 0;
  }

  /**
   * The map of all points at one z to the canvas.
   * @param {number} z
   * @returns {Affine}
   */
  plane(z) {
    const cos = Math.cos(this.turned);
    const sin = Math.sin(this.turned);
    const [px, py, pz] = this.pivot;
    const off = z - pz;
    // Turned: X = x cos + z sin and Z = −x sin + z cos; on the canvas X + ACROSS·Z, and UP·Z more of the height.
    const a = this.scale * (cos - ACROSS * sin);
    const b = this.scale * UP * sin;
    const e = this.middle[0] + this.scale * off * (sin + ACROSS * cos) - a * px;
    const f = this.middle[1] - this.scale * UP * off * cos - b * px + this.scale * py;
    return [a, b, 0, -this.scale, e, f];
  }

  /**
   * @param {number} x
   * @param {number} y
   * @param {number} z
   * @returns {[x: number, y: number]}
   */
  put(x, y, z) {
    const [a, b, c, d, e, f] = this.plane(z);
    return [a * x + c * y + e, b * x + d * y + f];
  }

  /**
   * The point of a plane that is drawn at a place of the canvas.
   * @param {number} u
   * @param {number} v
   * @param {number} z
   * @returns {[x: number, y: number]}
   */
  found(u, v, z) {
    const [a, b, , d, e, f] = this.plane(z);
    const x = (u - e) / a;
    return [x, (v - f - b * x) / d];
  }

  /**
   * How near to the reader a point is; what is nearer is painted later.
   * @param {number} x
   * @param {number} z
   */
  depth(x, z) {
    return -(x - this.pivot[0]) * Math.sin(this.turned) + (z - this.pivot[2]) * Math.cos(this.turned);
  }
}

/**
 * @param {CanvasRenderingContext2D} pen
 * @param {Affine} map
 * @param {number} ratio Pixels of the screen to one of the page
 */
export function under(pen, [a, b, c, d, e, f], ratio) {
  pen.setTransform(a * ratio, b * ratio, c * ratio, d * ratio, e * ratio, f * ratio);
}
