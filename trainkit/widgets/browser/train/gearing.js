// How the teeth of a train stand: outlines, phases and contact of each mesh, from what the kernel has laid out and from
// how far each gear has turned. Nothing here is drawn. Lengths are in the unit of the layout, angles in radians,
// anticlockwise from the x axis, as seen from the front.

import { chainOf, seated } from "../kit/chain.js";
import { contacts, meshing, meshingInside, ring, spur } from "../kit/involute.js";

/** @import { Chain } from "../kit/chain.js" */
/** @import { Spur } from "../kit/involute.js" */
/** @import { Gear, Place, Train } from "../shapes.js" */
/** @import { Turning } from "./motion.js" */

const RADIAN = Math.PI / 180;
const FEWEST = 8; // involute teeth inside a ring need so many fewer than the ring has: pumps have lobes
const TOUCHES = 0.002; // of the lash: nearer than this, a flank is drawn as touching

/**
 * @typedef {object} Mesh Two gears whose teeth reach into each other.
 * @property {Gear} driver
 * @property {Gear} driven
 * @property {boolean} inside
 */
/**
 * @typedef {object} Contact
 * @property {1 | -1 | 0} side 1 where the driver's leading flank touches, -1 where its other one does, 0 where none does
 * @property {[x: number, y: number][]} points
 * @property {[x: number, y: number]} push along the line of action, from the gear that is held towards the other
 * @property {[x: number, y: number]} pitch the pitch point
 */

export class Gearing {
  /**
   * @param {Train & { layout: NonNullable<Train["layout"]> }} shown
   * @param {Turning} turning
   */
  constructor(shown, turning) {
    this.turning = turning;
    this.gears = shown.gears.filter((gear) => shown.layout.places[gear.id]);
    this.places = shown.layout.places;
    this.watched = shown.layout.watched;
    this.hours = shown.layout.hours;
    this.pin = shown.layout.pin;
    const found = new Map(this.gears.map((gear) => [gear.id, gear]));
    /** @param {Gear} gear */
    const driver = (gear) => found.get(gear.driver ?? "");
    /** @type {Mesh[]} Those with flanks to look at */
    this.meshes = this.gears.flatMap((driven) => {
      const before = driver(driven);
      const toothed = driven.kind === "external" || driven.kind === "internal";
      return before && toothed ? [{ driver: before, driven, inside: driven.kind === "internal" }] : [];
    });
    const few = this.meshes.filter(
      ({ driver, driven, inside }) => inside && Math.abs((driver.teeth ?? 0) - (driven.teeth ?? 0)) < FEWEST,
    );
    /** Rotors of pumps and their rings. */
    this.lobed = new Set(few.flatMap(({ driver, driven }) => [driver, driven]));
    this.meshes = this.meshes.filter((mesh) => !few.includes(mesh));
    const joined = new Set([...this.meshes, ...few].flatMap(({ driver, driven }) => [driver, driven]));
    /** Gears whose teeth hold a chain or a belt and nothing else. */
    this.sprockets = new Set(
      this.gears.flatMap((driven) => {
        const before = driver(driven);
        const both = before && (driven.kind === "chain" || driven.kind === "belt") ? [before, driven] : [];
        return both.filter((gear) => !joined.has(gear));
      }),
    );
    /** @type {Map<Gear, Chain>} by the driven gear */
    this.chains = new Map();
    for (const gear of this.gears) {
      const before = driver(gear);
      if (!before || (gear.kind !== "chain" && gear.kind !== "belt")) continue;
      const [one, other] = [before, gear].map((each) => ({ ...this.place(each), teeth: each.teeth ?? 1 }));
      this.chains.set(gear, chainOf(one, other));
    }
    /** @type {Map<Gear, Spur>} */
    this.spurs = new Map();
    /** @type {Map<Gear, number>} */
    this.phases = new Map();
    this.shape();
  }

  /**
   * @param {Gear} gear
   * @returns {Place}
   */
  place(gear) {
    return this.places[gear.id];
  }

  /** @param {Gear} gear 1 where it turns clockwise when the crank goes forward, as seen from the front */
  sense(gear) {
    return gear.clockwise ? 1 : -1;
  }

  /** Outlines and phases, anew whenever lash is drawn larger or true. */
  shape() {
    const thinning = this.thinned();
    for (const gear of this.gears) {
      const { radius, inside } = this.place(gear);
      const teeth = gear.teeth ?? 1;
      const made = (inside ? ring : spur)(teeth, (2 * radius) / teeth, thinning.get(gear));
      const lobe = radius / teeth;
      this.spurs.set(gear, this.lobed.has(gear) ? { ...made, tip: radius + lobe, root: radius - lobe } : made);
    }
    this.stand(0);
    // A tooth, not a space, stands where the pack has the witness tooth.
    const watched = this.gears.find((gear) => gear.id === this.watched);
    const root = this.gears.find((gear) => gear === this.turning.root);
    if (!watched || !root) return;
    const { pitch } = this.spur(watched);
    const off = RADIAN * (90 - watched.mark.at) - this.phase(watched);
    const rest = off - pitch * Math.round(off / pitch);
    const rate = watched.rate[0] / watched.rate[1];
    this.stand((rest / rate) * this.sense(watched) * this.sense(root));
  }

  /** @param {Gear} gear */
  spur(gear) {
    return /** @type {Spur} */ (this.spurs.get(gear));
  }

  /** @param {Gear} gear */
  phase(gear) {
    return this.phases.get(gear) ?? 0;
  }

  /** The gear that drives one. @param {Gear} gear */
  driver(gear) {
    return this.gears.find((each) => each.id === gear.driver);
  }

  /**
   * How much thinner the teeth are, so that those of two that mesh add up to their lash. Along a tree of meshes that
   * leaves one number free: the middle of what leaves no tooth thicker than it ought to be.
   */
  thinned() {
    /** @type {Map<Gear, number>} */
    const found = new Map();
    for (const start of this.gears) {
      if (found.has(start)) continue;
      /** @type {Map<Gear, [fixed: number, sign: number]>} */
      const tree = new Map([[start, [0, 1]]]);
      for (const [gear, [fixed, sign]] of tree) {
        for (const { driver, driven } of this.meshes) {
          const other = gear === driver ? driven : gear === driven ? driver : undefined;
          if (!other || tree.has(other)) continue;
          tree.set(other, [RADIAN * driven.lash * this.turning.size * this.place(driven).radius - fixed, -sign]);
        }
      }
      const all = [...tree.values()];
      const least = Math.max(...all.filter(([, sign]) => sign > 0).map(([fixed]) => -fixed));
      const most = Math.min(...all.filter(([, sign]) => sign < 0).map(([fixed]) => fixed));
      const free = all.length > 1 ? (least + most) / 2 : 0;
      for (const [gear, [fixed, sign]] of tree) found.set(gear, fixed + sign * free);
    }
    return found;
  }

  /**
   * Where the first tooth of each gear stands at the start, when each driver's leading flank touches.
   * @param {number} first of the crank's gear
   */
  stand(first) {
    for (const gear of this.gears) {
      const before = this.driver(gear);
      this.phases.set(gear, before ? this.behind(before, gear) : first);
    }
  }

  /**
   * @param {Gear} driver
   * @param {Gear} driven
   */
  behind(driver, driven) {
    const standing = this.phase(driver);
    const chain = this.chains.get(driven);
    if (chain) return seated(chain, standing);
    if (driven.kind === "shaft") return standing;
    const inside = driven.kind === "internal";
    const towards = this.facing({ driver, driven, inside });
    const middle = (inside ? meshingInside : meshing)(this.spur(driver), standing, towards, this.spur(driven));
    return middle + this.sense(driven) * RADIAN * (driven.lash / 2) * this.turning.size;
  }

  /**
   * The direction from the driver's middle to where a mesh is.
   * @param {Mesh} mesh
   */
  facing({ driver, driven }) {
    const [from, to] = [this.place(driver), this.place(driven)];
    const way = Math.atan2(to.y - from.y, to.x - from.x);
    return from.inside ? way : to.inside ? way + Math.PI : way;
  }

  /**
   * Where the first tooth of a gear stands now.
   * @param {Gear} gear
   */
  angle(gear) {
    return this.phase(gear) - this.sense(gear) * RADIAN * this.turning.angle(gear.id);
  }

  /**
   * Where the mark of a gear stands now.
   * @param {Gear} gear
   */
  mark(gear) {
    return RADIAN * (90 - gear.mark.at - this.sense(gear) * this.turning.angle(gear.id));
  }

  /**
   * The point where the two pitch circles of a mesh touch.
   * @param {Mesh} mesh
   * @returns {[x: number, y: number]}
   */
  pitchPoint(mesh) {
    const { x, y, radius } = this.place(mesh.driver);
    const towards = this.facing(mesh);
    return [x + radius * Math.cos(towards), y + radius * Math.sin(towards)];
  }

  /**
   * Where the flanks of a mesh touch, and which way the held one pushes.
   * @param {Mesh} mesh
   * @returns {Contact}
   */
  contact(mesh) {
    const { driver, driven, inside } = mesh;
    const pitch = this.pitchPoint(mesh);
    const share = driven.lash
      ? this.turning.share(driven)
      : this.turning.way > 0 === this.turning.forth(driven)
        ? 0
        : 1;
    const side = share < TOUCHES ? 1 : share > 1 - TOUCHES ? -1 : 0;
    if (!side) return { side, points: [], push: [0, 0], pitch };
    // A ring is looked at from its pinion: which touches with its other flank where the ring is the one that drives.
    const from = inside && this.place(driver).inside ? driven : driver;
    const other = from === driver ? driven : driver;
    const anticlockwise = /** @type {1 | -1} */ (-side * this.sense(from) * (from === driver ? 1 : -1));
    const { x, y } = this.place(from);
    const towards = this.facing(mesh);
    const found = contacts(this.spur(from), this.angle(from) - towards, anticlockwise, this.spur(other), inside);
    const [cos, sin] = [Math.cos(towards), Math.sin(towards)];
    /** @type {(point: [number, number]) => [number, number]} */
    const turned = ([u, v]) => [u * cos - v * sin, u * sin + v * cos];
    const way = (from === driver ? 1 : -1) * (this.turning.forth(driven) ? 1 : -1);
    const [px, py] = turned(found.along);
    return {
      side,
      points: found.points.map(turned).map(([u, v]) => [x + u, y + v]),
      push: [px * way, py * way],
      pitch,
    };
  }
}
