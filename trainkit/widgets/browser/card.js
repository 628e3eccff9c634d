// The summary card. What is printed is a page of its own in an unseen frame: no window opens, nothing is fetched, and
// nothing else of the notebook gets on the paper.

import { drawing, freshId, make } from "./page.js";

/** @import { Card } from "./shapes.js" */

export class SummaryCard {
  /** @type {HTMLIFrameElement | undefined} */
  frame;

  /**
   * @param {HTMLElement} root
   * @param {Card} shown
   */
  constructor(root, shown) {
    const titleId = freshId("title");
    root.setAttribute("aria-labelledby", titleId);
    root.dataset.kind = "card";
    root.dataset.mode = "card";
    root.dataset.name = "card";
    this.shown = shown;
    this.root = root;
    this.status = make("p", { class: "tk-status", role: "status", "aria-live": "polite" });
    const button = make(
      "button",
      { type: "button", class: "tk-main tk-print", onclick: () => this.print() },
      "Print this card",
    );
    root.replaceChildren(
      make(
        "div",
        { class: "tk-head" },
        make("p", { class: "tk-title", id: titleId, role: "heading", "aria-level": "3" }, shown.heading),
      ),
      drawing(shown.html, "tk-card-shown"),
      make("div", { class: "tk-foot" }, button, this.status),
    );
  }

  print() {
    this.frame?.remove();
    const frame = make("iframe", {
      class: "tk-unseen",
      title: this.shown.heading,
      tabindex: "-1",
      "aria-hidden": "true",
    });
    this.frame = frame;
    this.status.textContent = "The print window opens. It takes half a sheet of A4.";
    frame.addEventListener("load", () => {
      frame.contentWindow?.focus(); // some browsers print whatever has the focus
      frame.contentWindow?.print();
    });
    frame.srcdoc = this.shown.page;
    this.root.append(frame);
  }

  close() {
    this.frame?.remove();
  }
}
