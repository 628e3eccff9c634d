// What a question, the hand-in and a summary card are to anywidget.

import { SummaryCard } from "./card.js";
import { Finish } from "./finish.js";
import { Frame } from "./frame.js";
import { installGuard } from "./guard.js";
import { make } from "./page.js";
import { Post } from "./post.js";

/** @import { Card, HandIn, Model, Question } from "./shapes.js" */

/**
 * @param {Question | HandIn | Card} shown
 * @param {HTMLElement} root
 * @param {Post} post
 */
function framed(shown, root, post) {
  if (shown.kind === "finish") return new Finish(root, shown, post);
  if (shown.kind === "card") return new SummaryCard(root, shown);
  return new Frame(root, shown, post);
}

/** @param {{ model: Model, el: HTMLElement }} place */
function render({ model, el }) {
  installGuard();
  // The root takes the focus of a click beside the controls, so that keys stay in the question even then.
  const root = make("section", { class: "tk-question", tabindex: "-1" });
  el.replaceChildren(root);
  const post = new Post(model);
  const frame = framed(/** @type {Question | HandIn | Card} */ (model.get("shown")), root, post);
  return () => {
    frame.close();
    post.close();
  };
}

export default { initialize: installGuard, render };
