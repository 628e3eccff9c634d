// The frame round an instrument: what one does with it, the instrument, and that nothing is asked.

import { flangeInstrument } from "./flange/instrument.js";
import { installGuard } from "./guard.js";
import { leverInstrument } from "./lever.js";
import { freshId, make } from "./page.js";
import { partsInstrument } from "./parts/instrument.js";
import { pinInstrument } from "./pin/instrument.js";
import { Post } from "./post.js";
import { strokesInstrument } from "./strokes/instrument.js";
import { turningInstrument } from "./train/instrument.js";

/** @import { Instrument, InstrumentHooks, InstrumentShown, Model } from "./shapes.js" */

/**
 * @param {InstrumentShown} shown
 * @param {InstrumentHooks} hooks
 * @returns {Instrument}
 */
function instrument(shown, hooks) {
  if (shown.kind === "wrench") return leverInstrument(shown, hooks);
  if (shown.kind === "bolts") return flangeInstrument(shown, hooks);
  if (shown.kind === "strokes") return strokesInstrument(shown, hooks);
  if (shown.kind === "pin") return pinInstrument(shown, hooks);
  if (shown.kind === "parts") return partsInstrument(shown, hooks);
  return turningInstrument(shown, hooks);
}

/** @param {{ model: Model, el: HTMLElement }} place */
function render({ model, el }) {
  installGuard();
  const shown = /** @type {InstrumentShown} */ (model.get("shown"));
  const root = make("section", { class: "tk-question tk-instrument", tabindex: "-1" });
  const title = freshId("title");
  root.setAttribute("aria-labelledby", title);
  root.dataset.kind = shown.kind;
  root.dataset.mode = shown.mode;
  root.dataset.name = shown.name;
  el.replaceChildren(root);
  const post = new Post(model);
  const alarm = make("p", { class: "tk-alarm", role: "alert" });
  const made = instrument(shown, { root, post, alarm });
  root.replaceChildren(
    make(
      "div",
      { class: "tk-head" },
      make("p", { class: "tk-title", id: title, role: "heading", "aria-level": "3" }, shown.heading),
      make("p", { class: "tk-points" }, shown.unscored),
    ),
    ...shown.lead.map((text) => make("p", { class: "tk-prompt" }, text)),
    made.node,
    alarm,
  );
  return () => {
    made.close?.();
    post.close();
  };
}

export default { initialize: installGuard, render };
