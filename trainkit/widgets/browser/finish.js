// The hand-in: what is answered, what is not, and the button that makes the file. What it says comes from the disk.

import { freshId, make } from "./page.js";
import { NOT_HANDED_IN } from "./sentences.js";

/** @import { HandIn, HandInReply } from "./shapes.js" */

export class Finish {
  painted = "";

  /**
   * @param {HTMLElement} root
   * @param {HandIn} shown
   * @param {import("./post.js").Post} post
   */
  constructor(root, shown, post) {
    this.root = root;
    this.post = post;
    this.sure = false;
    const titleId = freshId("title");
    root.setAttribute("aria-labelledby", titleId);
    root.dataset.kind = "finish";
    root.dataset.mode = "finish";
    root.dataset.name = "finish";
    this.lines = make("div", { class: "tk-progress", role: "status", "aria-live": "polite" });
    this.alarm = make("p", { class: "tk-alarm", role: "alert" });
    this.result = make("div", { class: "tk-result", role: "status", "aria-live": "polite" });
    this.hand = make(
      "button",
      { type: "button", class: "tk-main tk-hand", onclick: () => this.send({ type: "hand", sure: this.sure }) },
      "Hand in",
    );
    const look = make(
      "button",
      { type: "button", class: "tk-plain tk-look", onclick: () => this.send({ type: "look" }) },
      "Look again",
    );
    root.replaceChildren(
      make(
        "div",
        { class: "tk-head" },
        make("p", { class: "tk-title", id: titleId, role: "heading", "aria-level": "3" }, shown.heading),
      ),
      this.lines,
      make("div", { class: "tk-foot" }, this.hand, look),
      this.alarm,
      this.result,
    );
    this.paint(shown);
    // Answers were saved since: whoever comes here sees how far it is now, without a press on a button.
    this.watch = new IntersectionObserver((seen) => {
      if (seen.some((each) => each.isIntersecting)) this.refresh();
    });
    this.watch.observe(root);
  }

  /** @param {HandIn} shown */
  paint(shown) {
    const now = shown.lines.join("\n");
    if (now === this.painted) return; // what has not changed need not be said aloud again
    this.painted = now;
    this.lines.replaceChildren(...shown.lines.map((line) => make("p", {}, line)));
  }

  refresh() {
    this.post.ask(
      { type: "look" },
      (/** @type {HandInReply} */ reply) => reply.shown && this.paint(reply.shown),
      () => {},
    );
  }

  /** @param {object} message */
  send(message) {
    this.alarm.textContent = "";
    this.root.dataset.status = "waiting";
    this.post.ask(
      message,
      (/** @type {HandInReply} */ reply) => this.answered(reply),
      () => {
        this.root.dataset.status = "failed";
        this.alarm.textContent = NOT_HANDED_IN;
      },
    );
  }

  /** @param {HandInReply} reply */
  answered(reply) {
    this.root.dataset.status = reply.type;
    if (reply.shown) this.paint(reply.shown);
    this.sure = reply.type === "unsure";
    this.hand.textContent = this.sure ? "Hand in all the same" : "Hand in";
    this.result.replaceChildren();
    if (reply.type === "unsure") {
      this.alarm.textContent = "Something is not answered yet. Answer it first, or hand in all the same.";
    } else if (reply.type === "refused") {
      this.alarm.textContent = reply.text;
    } else if (reply.type === "packed") {
      const link = make("a", {
        class: "tk-copy",
        href: `data:application/zip;base64,${reply.data}`,
        download: reply.file,
      });
      link.textContent = "Keep a copy";
      this.result.replaceChildren(
        make(
          "p",
          {},
          make("strong", {}, "✓ The hand-in file is ready: "),
          make("span", { class: "tk-file" }, reply.file),
        ),
        make("p", {}, "It lies beside this notebook. Give it to your instructor, or hand it in the way they told you."),
        make("p", {}, "If you change an answer after this, hand in again."),
        make("p", {}, link),
      );
    }
  }

  close() {
    this.watch.disconnect();
  }
}
