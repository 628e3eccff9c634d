// A card that is missing from a written order: radio buttons stand in the gaps between the written cards.

import { freshId, make, settleOnEnter } from "./page.js";

/** @import { Control, Hooks, Named, Question } from "./shapes.js" */
/** @typedef {{ kind: "insert", place: number }} InsertResponse */

/**
 * Which gap between the written cards a place is.
 * @param {Named[]} written
 * @param {number} place
 */
function gapWords(written, place) {
  const last = written.length;
  if (place === 0) return `Before “${written[0].text}”`;
  if (place === last) return `After “${written[last - 1].text}”`;
  return `Between “${written[place - 1].text}” and “${written[place].text}”`;
}

/**
 * @param {Question<"insert">} shown
 * @param {Hooks} hooks
 * @returns {Control<InsertResponse>}
 */
export function insertControl(shown, hooks) {
  const { written, missing } = shown.control;
  const group = freshId("insert");
  const gaps = Array.from({ length: written.length + 1 }, (_, place) =>
    make("input", {
      type: "radio",
      name: group,
      value: String(place),
      "aria-label": gapWords(written, place),
      onchange: () => {
        mark();
        hooks.changed();
      },
    }),
  );
  const notes = gaps.map(() => make("span", {}, "here"));
  const mark = () => {
    for (const [place, note] of notes.entries()) note.textContent = gaps[place].checked ? missing.text : "here";
  };
  /** @param {number} place */
  const gap = (place) => make("label", { class: "tk-option tk-gap" }, gaps[place], notes[place]);
  const node = make(
    "fieldset",
    { class: "tk-insert" },
    make("legend", {}, "Where does this step go: ", make("strong", {}, missing.text)),
    gap(0),
    ...written.flatMap((card, place) => [
      make(
        "p",
        { class: "tk-written" },
        make("span", { class: "tk-place" }, `${place + 1}`),
        make("span", {}, card.text),
      ),
      gap(place + 1),
    ]),
  );
  node.addEventListener("keydown", settleOnEnter(hooks));
  return {
    node,
    value: () => {
      const chosen = gaps.find((input) => input.checked);
      return chosen ? { kind: "insert", place: Number(chosen.value) } : null;
    },
    set(response) {
      for (const [place, input] of gaps.entries()) input.checked = response?.place === place;
      mark();
    },
    focus: () => (gaps.find((input) => input.checked) ?? gaps[0]).focus(),
    missing: "Choose a place first.",
  };
}
