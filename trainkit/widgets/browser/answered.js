// An answer beside the right one: in words, and in the picture where it was given on one.

import { drawing, make } from "./page.js";

/** @import { Explained } from "./shapes.js" */

/**
 * What is said of the two; nothing where there is nothing to compare.
 * @param {Pick<Explained, "yours" | "right">} explained
 * @returns {[term: string, words: string[]][]}
 */
export function rows({ yours, right }) {
  /** @type {[string, string[]][]} */
  const both = [
    ["✗ Your answer", yours ? [yours] : []],
    ["✓ Right", right ?? []],
  ];
  return both.filter(([, words]) => words.length);
}

/** @param {Explained} explained */
export function compared(explained) {
  const told = rows(explained);
  return [
    told.length
      ? make(
          "dl",
          { class: "tk-compared" },
          ...told.map(([term, words]) =>
            make("div", {}, make("dt", {}, term), ...words.map((line) => make("dd", {}, line))),
          ),
        )
      : "",
    explained.figure ? drawing(explained.figure) : "",
  ];
}
