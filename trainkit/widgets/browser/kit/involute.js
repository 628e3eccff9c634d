// Involute teeth: outlines that touch each other as real ones do. Lengths in the unit of the module, angles in radians,
// anticlockwise from the x axis. Terms and formulas are those of ISO 21771.

export const PRESSURE_ANGLE = (20 * Math.PI) / 180;
const DEDENDUM = 1.25; // in modules
const UNDERCUT = 18; // fewer teeth than this are hollowed at the foot

/** @param {number} angle */
export const involute = (angle) => Math.tan(angle) - angle;

/**
 * @typedef {object} Spur
 * @property {number} teeth
 * @property {number} module
 * @property {number} reference Radius of the reference circle
 * @property {number} base
 * @property {number} tip
 * @property {number} root
 * @property {number} pitch Angle from tooth to tooth
 * @property {number} half Half the angle of a tooth at the reference circle
 */

/**
 * A spur gear with teeth of the standard height.
 * @param {number} teeth
 * @param {number} module
 * @param {number} [thinning] so much thinner is a tooth at the reference circle, which leaves lash
 * @returns {Spur}
 */
export function spur(teeth, module, thinning = 0) {
  const reference = (teeth * module) / 2;
  return {
    teeth,
    module,
    reference,
    base: reference * Math.cos(PRESSURE_ANGLE),
    tip: reference + module,
    root: reference - DEDENDUM * module,
    pitch: (2 * Math.PI) / teeth,
    half: ((Math.PI * module) / 2 - thinning) / (2 * reference),
  };
}

/**
 * The spaces of a ring with inside teeth, as if they were the teeth of a gear: its foot is the ring's tip.
 * @param {number} teeth
 * @param {number} module
 * @param {number} [thinning] so much thinner is a tooth of the ring, and so much wider a space
 * @returns {Spur}
 */
export function ring(teeth, module, thinning = 0) {
  const { reference, ...space } = spur(teeth, module, -thinning);
  return { ...space, reference, tip: reference + DEDENDUM * module, root: reference - module };
}

/**
 * Half the angle of a tooth at a radius.
 * @param {Spur} gear
 * @param {number} radius
 */
export function halfAt(gear, radius) {
  return gear.half + involute(PRESSURE_ANGLE) - involute(Math.acos(Math.min(1, gear.base / radius)));
}

/**
 * One tooth from root to root, as radius and angle from its middle.
 * @param {Spur} gear
 * @param {number} points of each flank: 3 do where a tooth is 8 pixels high, 10 under a magnifier
 * @returns {[radius: number, angle: number][]}
 */
export function tooth(gear, points) {
  const { module, base, root, tip, pitch } = gear;
  const from = Math.max(base, root + 0.28 * module);
  const few = gear.teeth < UNDERCUT;
  const foot = Math.min(halfAt(gear, from) + ((few ? -0.06 : 0.1) * module) / root, 0.48 * pitch);
  /** @type {[number, number][]} */
  const up = [
    [root, foot],
    [root + (few ? 0.3 : 0.07) * module, halfAt(gear, from) + ((few ? -0.1 : 0.025) * module) / root],
  ];
  for (let at = 0; at <= points; at++) {
    const radius = from + ((tip - from) * at) / points;
    up.push([radius, halfAt(gear, radius)]);
  }
  return [...up.map(([radius, angle]) => /** @type {[number, number]} */ ([radius, -angle])), ...up.reverse()];
}

/**
 * The outline of all teeth as points, the first tooth on the x axis.
 * @param {Spur} gear
 * @param {number} points of each flank
 * @returns {[x: number, y: number][]}
 */
export function outline(gear, points) {
  const one = tooth(gear, points);
  return Array.from({ length: gear.teeth }, (_, number) =>
    one.map(([radius, angle]) => {
      const at = number * gear.pitch + angle;
      return /** @type {[number, number]} */ ([radius * Math.cos(at), radius * Math.sin(at)]);
    }),
  ).flat();
}

/**
 * A closed path through points.
 * @param {[x: number, y: number][]} points
 */
export function pathOf(points) {
  const path = new Path2D();
  for (const [x, y] of points) path.lineTo(x, y);
  path.closePath();
  return path;
}

/**
 * The angle at which the first tooth of a gear stands when it meshes with another.
 * @param {Spur} driver
 * @param {number} standing of the driver's first tooth
 * @param {number} towards direction from the driver's middle to the other's
 * @param {Spur} driven
 */
export function meshing(driver, standing, towards, driven) {
  const share = (towards - standing) / driver.pitch;
  return towards + Math.PI - driven.pitch * (0.5 - share);
}

/**
 * The same for a gear inside a ring: at which angle a space of the one stands where a tooth of the other is.
 * @param {Spur} driver
 * @param {number} standing of the driver's first tooth, or space
 * @param {number} towards direction from the driver's middle to where they mesh
 * @param {Spur} driven
 */
export const meshingInside = (driver, standing, towards, driven) =>
  towards - driven.pitch * ((towards - standing) / driver.pitch);

/**
 * Where flanks touch: on the line of action, between the tip circles of both. The gear's middle is at the origin, and
 * the other's on the x axis.
 * @param {Spur} gear
 * @param {number} standing of its first tooth
 * @param {1 | -1} anticlockwise the flank that looks anticlockwise touches, or the other one
 * @param {Spur} other
 * @param {boolean} [inside] whether the other is a ring round this one
 * @returns {{ points: [x: number, y: number][], along: [x: number, y: number] }} `along` is the way the gear pushes
 */
export function contacts(gear, standing, anticlockwise, other, inside = false) {
  const sin = Math.sin(PRESSURE_ANGLE);
  const cos = Math.cos(PRESSURE_ANGLE);
  const apart = inside ? gear.reference - other.reference : gear.reference + other.reference;
  const foot = gear.half + involute(PRESSURE_ANGLE);
  /** @type {[number, number][]} */
  const points = [];
  const nearest = -Math.round(standing / gear.pitch);
  for (let number = nearest - 3; number <= nearest + 3; number++) {
    // Unrolled from the base circle, a flank is as long as its arc: that is how far along the line it is touched.
    const along = gear.base * ((standing + number * gear.pitch) * anticlockwise + foot + PRESSURE_ANGLE);
    const past = along - gear.reference * sin; // the pitch point
    const [x, y] = [gear.reference + past * sin, past * cos];
    const reach = Math.hypot(x - apart, y);
    const met = inside ? reach >= other.root : reach <= other.tip;
    if (along > 0 && Math.hypot(x, y) <= gear.tip && met) points.push([x, y * anticlockwise]);
  }
  return { points, along: [sin, cos * anticlockwise] };
}
