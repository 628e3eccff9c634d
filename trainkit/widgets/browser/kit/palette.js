// The colours of what moves: the theme's own, and metals that are made of them.

/**
 * @typedef {object} Palette
 * @property {string} paper
 * @property {string} ink
 * @property {string} quiet
 * @property {string} accent
 * @property {string} caution
 * @property {string} danger
 * @property {string} settled
 * @property {boolean} dark
 * @property {string} face A machined face in the light, `faceHigh` where it shines and `faceLow` where it turns away.
 * @property {string} faceHigh
 * @property {string} faceLow
 * @property {string} wall Cast iron behind the parts, and `wallLow` where it is in shade.
 * @property {string} wallLow
 * @property {string} edge The outline of a part.
 * @property {string} sideHigh The side of a part that looks at the light, and `sideLow` one that does not.
 * @property {string} sideLow
 * @property {string} deep What lies in a hole.
 * @property {string} shadow
 */

const ROLES = /** @type {const} */ (["paper", "ink", "quiet", "accent", "caution", "danger", "settled"]);

/** @param {string} colour */
const channels = (colour) =>
  colour.startsWith("#")
    ? [1, 3, 5].map((at) => parseInt(colour.slice(at, at + 2), 16))
    : (colour.match(/\d+/g) ?? []).slice(0, 3).map(Number);

/**
 * A colour between two, written `#rrggbb` or as this function writes them.
 * @param {string} from
 * @param {string} to
 * @param {number} share 0 is the first, 1 the second
 * @param {number} [alpha]
 */
export function mixed(from, to, share, alpha = 1) {
  const end = channels(to);
  const found = channels(from).map((value, at) => Math.round(value + (end[at] - value) * share));
  return alpha === 1 ? `rgb(${found.join(" ")})` : `rgb(${found.join(" ")} / ${alpha})`;
}

/**
 * The palette as it stands for an element of the page.
 * @param {Element} node
 * @returns {Palette}
 */
export function paletteOf(node) {
  const style = getComputedStyle(node);
  const roles = /** @type {Record<typeof ROLES[number], string>} */ (
    Object.fromEntries(ROLES.map((role) => [role, style.getPropertyValue(`--tk-${role}`).trim() || "#808080"]))
  );
  const { paper, ink, quiet } = roles;
  const dark = channels(paper)[0] < 128;
  return {
    ...roles,
    dark,
    face: mixed(paper, ink, dark ? 0.15 : 0.04),
    faceHigh: mixed(paper, dark ? ink : "#ffffff", dark ? 0.25 : 1),
    faceLow: mixed(paper, ink, dark ? 0.08 : 0.13),
    wall: mixed(paper, dark ? ink : quiet, dark ? 0.04 : 0.09),
    wallLow: mixed(paper, dark ? "#000000" : quiet, dark ? 0.25 : 0.25),
    edge: dark ? mixed(ink, paper, 0.22) : ink,
    sideHigh: mixed(paper, ink, dark ? 0.36 : 0.22),
    sideLow: mixed(dark ? "#000000" : paper, ink, dark ? 0.1 : 0.62),
    deep: mixed(dark ? "#000000" : paper, ink, dark ? 0.04 : 0.38),
    shadow: dark ? "rgb(0 0 0 / 0.55)" : mixed(ink, ink, 0, 0.26),
  };
}

/**
 * Calls whenever the theme may have become another one.
 * @param {() => void} changed
 * @returns {() => void} stops it
 */
export function onTheme(changed) {
  const watching = new MutationObserver(changed);
  watching.observe(document.body, { attributes: true, attributeFilter: ["data-jp-theme-light", "data-jp-theme-name"] });
  const system = matchMedia("(prefers-color-scheme: dark)");
  system.addEventListener("change", changed);
  return () => {
    watching.disconnect();
    system.removeEventListener("change", changed);
  };
}
