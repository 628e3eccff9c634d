// The pictures of a gear's face, which the kernel has drawn, with their moving parts, and the table of the gears.

import { drawing, make, part, shapes } from "../page.js";

/** @import { Gear, Train } from "../shapes.js" */

/**
 * A picture of the kernel's, and its moving parts.
 * @param {HTMLElement} node
 * @param {Train} shown
 */
export function viewOf(node, shown) {
  /** @type {Map<string | undefined, { part: SVGElement, middle: string }>} */
  const parts = new Map();
  for (const turns of shapes(node, "[data-turns]")) {
    parts.set(turns.dataset.turns, { part: turns, middle: turns.dataset.middle ?? "" });
  }
  /** @type {Map<string | undefined, SVGElement[]>} */
  const arrows = new Map();
  for (const arrow of shapes(node, "[data-arrow]")) {
    const gear = /** @type {SVGElement | null} */ (arrow.closest("[data-target]"))?.dataset.target;
    arrows.set(gear, [...(arrows.get(gear) ?? []), arrow]);
  }
  const held = shown.watched ?? shown.turned;
  /** @type {SVGElement} */
  const grip = part(node, `[data-target="${CSS.escape(held)}"]`);
  grip.classList.add("tk-grip-to-turn");
  return {
    node,
    held,
    grip,
    /**
     * @param {string} gear
     * @param {number} degrees
     */
    turn(gear, degrees) {
      const found = parts.get(gear);
      found?.part.setAttribute("transform", `rotate(${degrees} ${found.middle})`);
    },
    /**
     * @param {string} gear
     * @param {string} sense
     */
    point(gear, sense) {
      for (const arrow of arrows.get(gear) ?? [])
        arrow.setAttribute("visibility", arrow.dataset.arrow === sense ? "visible" : "hidden");
    },
    /**
     * Degrees clockwise from twelve, as the pointer stands to the middle of what is held.
     * @param {PointerEvent} event
     */
    angle(event) {
      /** @type {SVGSVGElement} */
      const svg = part(node, "svg");
      const box = svg.getBoundingClientRect();
      const scale = box.width / svg.viewBox.baseVal.width;
      const [x, y] = (parts.get(held)?.middle ?? "").split(" ").map(Number);
      return (Math.atan2(event.clientX - box.left - x * scale, box.top + y * scale - event.clientY) * 180) / Math.PI;
    },
  };
}

/**
 * @param {Gear} gear
 * @param {number} place
 * @param {Train} shown
 * @param {HTMLElement} [extra]
 */
export function rowOf(gear, place, shown, extra) {
  const [sense, angle, mark] = ["tk-now", "tk-angle", "tk-mark-at"].map((kind) => make("span", { class: kind }));
  const lash = make("span", {});
  const teeth = gear.teeth ? `${gear.teeth} teeth` : "no teeth";
  const flank = gear.flank ? drawing(gear.flank, "tk-flank") : "";
  const numbered = shown.kind === "gears" && gear.teeth ? `${place + 1} ` : "";
  const node = make(
    "tr",
    { "data-gear": gear.id },
    make("th", { scope: "row" }, `${numbered}${gear.name}`, make("span", { class: "tk-teeth" }, teeth)),
    make("td", {}, sense, angle, extra),
    make("td", {}, mark),
    make("td", { class: "tk-play" }, flank, lash),
  );
  const tooth = flank ? /** @type {SVGElement | null} */ (flank.querySelector("[data-slides]")) : null;
  return { node, sense, angle, mark, lash, tooth, gap: Number(tooth?.dataset.slides ?? 0) };
}

/** @param {ReturnType<typeof rowOf>[]} rows */
export function tableOf(rows) {
  const lash = rows.some((row) => row.tooth) ? "Lash, forward to the right" : "Lash";
  const heads = ["Gear", "Turns", "Mark", lash].map((word) => make("th", { scope: "col" }, word));
  return make(
    "table",
    { class: "tk-turning-table" },
    make("caption", { class: "tk-unseen" }, "What each gear does"),
    make("thead", {}, make("tr", {}, ...heads)),
    make("tbody", {}, ...rows.map((row) => row.node)),
  );
}
