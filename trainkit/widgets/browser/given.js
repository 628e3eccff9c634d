// What stands above the control of a question: which one it is, and what is told about the engine.

import { make } from "./page.js";

/** @import { Question } from "./shapes.js" */

// A long table would push the buttons of a bench off a small screen: there it is folded, and says that it is.
const LONG = 8;
const SMALL = "(max-width: 800px)";

/**
 * What a practice question is, in a few words, unless its heading says so already.
 * @param {Question} shown
 */
export function whichOne({ name, heading }) {
  const said = name[0].toUpperCase() + name.slice(1);
  return heading.endsWith(`: ${said}`) ? "" : said;
}

/** @param {Question} shown */
export function givenShown(shown) {
  const table = givenTable(shown.given);
  if (shown.kind !== "actions" || shown.given.length < LONG) return table;
  return make(
    "details",
    { class: "tk-fold", open: !window.matchMedia(SMALL).matches },
    make("summary", {}, `Read this first: what is told about the engine, ${shown.given.length} lines`),
    table,
  );
}

/** @param {Question["given"]} given */
function givenTable(given) {
  return make(
    "table",
    { class: "tk-given" },
    make(
      "tbody",
      {},
      ...given.map((line) => make("tr", {}, make("th", { scope: "row" }, line.label), make("td", {}, line.value))),
    ),
  );
}
