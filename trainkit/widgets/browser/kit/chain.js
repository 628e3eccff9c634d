// A chain or a toothed belt round two wheels: where each link stands. Links count anticlockwise as seen from the front.

/**
 * @typedef {object} Wheel
 * @property {number} x
 * @property {number} y
 * @property {number} radius
 * @property {number} teeth
 */
/**
 * @typedef {object} Chain
 * @property {Wheel} one
 * @property {Wheel} other
 * @property {number} lean Where the strands leave both circles, on either side of the line between the middles
 * @property {number} way Direction of that line
 * @property {number} links
 * @property {number} round Links that lie on the first wheel
 * @property {number} strand Links of one strand: where a whole number does not come out, the strands stretch a little
 */

const TURN = 2 * Math.PI;

/**
 * @param {Wheel} one
 * @param {Wheel} other
 * @returns {Chain}
 */
export function chainOf(one, other) {
  const apart = Math.hypot(other.x - one.x, other.y - one.y);
  const lean = Math.acos(Math.max(-1, Math.min(1, (one.radius - other.radius) / apart)));
  const round = ((TURN - 2 * lean) / TURN) * one.teeth;
  const further = ((2 * lean) / TURN) * other.teeth;
  const pitch = (TURN * one.radius) / one.teeth;
  const whole = round + further + (2 * apart * Math.sin(lean)) / pitch;
  const links = Math.max(4, 2 * Math.round(whole / 2)); // inner and outer links take turns
  const way = Math.atan2(other.y - one.y, other.x - one.x);
  return { one, other, lean, way, links, round, strand: (links - round - further) / 2 };
}

/**
 * How the first wheel stands, in links from where the chain comes onto it.
 * @param {Chain} chain
 * @param {number} standing of a seat of the first wheel
 */
export const started = ({ one, way, lean }, standing) => ((standing - way - lean) / TURN) * one.teeth;

/**
 * At which angle a seat of the second wheel stands.
 * @param {Chain} chain
 * @param {number} standing of a seat of the first wheel
 */
export function seated(chain, standing) {
  const { other, way, lean, round, strand } = chain;
  return way - lean + ((started(chain, standing) - round - strand) * TURN) / other.teeth;
}

/**
 * The point of a chain so many links from where it comes onto the first wheel.
 * @param {Chain} chain
 * @param {number} link
 * @returns {[x: number, y: number]}
 */
export function linkAt({ one, other, lean, way, links, round, strand }, link) {
  const at = ((link % links) + links) % links;
  /** @type {(wheel: Wheel, angle: number) => [number, number]} */
  const on = ({ x, y, radius }, angle) => [x + radius * Math.cos(angle), y + radius * Math.sin(angle)];
  /** @type {(side: number, share: number) => [number, number]} */
  const between = (side, share) => {
    const [from, to] = [on(one, way + side * lean), on(other, way + side * lean)];
    return [from[0] + (to[0] - from[0]) * share, from[1] + (to[1] - from[1]) * share];
  };
  if (at < round) return on(one, way + lean + (at / one.teeth) * TURN);
  if (at < round + strand) return between(-1, (at - round) / strand);
  if (at < links - strand) return on(other, way - lean + ((at - round - strand) / other.teeth) * TURN);
  return between(1, (links - at) / strand);
}
