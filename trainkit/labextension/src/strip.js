// The strip above a workbook: who, which module and form, how far, saved or not. It only shows what it is told.

import { Widget } from "@lumino/widgets";

/** @import { Standing, StripView } from "./shapes.js" */

/**
 * @template {keyof HTMLElementTagNameMap} Tag
 * @param {Tag} tag
 * @param {string} name
 * @param {string} [text]
 */
function make(tag, name, text = "") {
  const node = document.createElement(tag);
  if (name) node.className = name;
  node.textContent = text;
  return node;
}

const SIGNS = { waiting: "", saving: "", none: "○", saved: "✓", failed: "▲", practice: "○" };

export class Strip extends Widget {
  shown_ = "";
  noted_ = "";
  /** @type {string[]} */
  last_ = [];

  /**
   * @param {(name: string | undefined) => void} go is called with the name of a question
   * @param {() => void} read is called when reading aloud is to begin or to end
   * @param {() => void} again is called when the kernel is to be started again
   */
  constructor(go, read, again) {
    super();
    this.addClass("tk-strip");
    this.node.setAttribute("role", "region");
    this.node.setAttribute("aria-label", "Your workbook");
    this.title_ = make("strong", "tk-strip-title");
    this.who = make("span", "tk-strip-who");
    this.steps = make("span", "tk-strip-steps");
    this.steps.setAttribute("aria-hidden", "true"); // the words beside it say the same
    this.count = make("span", "tk-strip-count");
    this.next = make("button", "tk-strip-next");
    this.next.type = "button";
    this.next.hidden = true;
    this.next.addEventListener("click", () => go(this.next.dataset.name));
    this.status = make("span", "tk-strip-status");
    // Where there is no voice there is no button, and nobody misses one.
    this.read = make("button", "tk-strip-read", "Read aloud");
    this.read.type = "button";
    this.read.hidden = true;
    this.read.addEventListener("click", read);
    this.again = make("button", "tk-strip-again", "Start again");
    this.again.type = "button";
    this.again.hidden = true;
    this.again.addEventListener("blur", () => {
      this.again.hidden = this.again.getAttribute("aria-disabled") === "true";
    });
    this.again.addEventListener("click", () => {
      if (this.again.getAttribute("aria-disabled") !== "true") again();
    });
    this.notes = make("div", "tk-strip-notes");
    this.said = make("p", "tk-strip-unseen");
    this.said.setAttribute("role", "status");
    this.said.setAttribute("aria-live", "polite");
    const whose = make("div", "tk-strip-part");
    whose.append(this.title_, " ", this.who);
    const far = make("div", "tk-strip-part tk-strip-far");
    far.append(this.steps, this.count, this.next);
    const row = make("div", "tk-strip-row");
    row.append(whose, far, this.read, this.status, this.again);
    this.inner = make("div", "tk-strip-inner");
    this.inner.append(row, this.notes, this.said);
    this.node.append(this.inner);
    // JupyterLab gives a widget the height that it asks for, not what it holds.
    this.sized = new ResizeObserver(() => {
      this.node.style.minHeight = `${Math.ceil(this.inner.getBoundingClientRect().height)}px`;
      this.parent?.fit();
    });
    this.sized.observe(this.inner);
    this.disposed.connect(() => this.sized.disconnect());
  }

  /** @param {StripView} view */
  show_(view) {
    const now = JSON.stringify(view);
    if (now === this.shown_) return;
    this.shown_ = now;
    this.node.dataset.status = view.status;
    this.title_.textContent = view.title;
    this.who.textContent = view.who;
    this.count.textContent = view.count;
    this._steps(view.steps);
    this._next(view.next);
    this._status(view);
    // A button that has the focus does not vanish under it.
    this.again.hidden = !view.again && document.activeElement !== this.again;
    this.again.setAttribute("aria-disabled", String(!view.again));
    if (view.notes.join("\n") !== this.noted_) {
      this.noted_ = view.notes.join("\n");
      this.notes.replaceChildren(...view.notes.map((text) => make("p", "", text)));
    }
    this._say(view);
  }

  /**
   * @param {boolean} can
   * @param {boolean} reads
   */
  voice(can, reads) {
    this.read.hidden = !can && !reads;
    this.read.textContent = reads ? "Stop reading" : "Read aloud";
  }

  /**
   * A way to another page of the workbook.
   * @param {HTMLElement} link
   */
  offer(link) {
    this.status.before(link);
  }

  /**
   * Said to those who cannot see what has just come up.
   * @param {string} text
   */
  tell(text) {
    this.said.textContent = this.said.textContent === text ? `${text}\u00a0` : text;
  }

  /** @param {StripView["steps"]} steps */
  _steps(steps) {
    this.steps.replaceChildren(
      ...steps.map(({ answered, unsaved }) =>
        make("i", unsaved ? "tk-strip-unsaved" : answered ? "tk-strip-answered" : ""),
      ),
    );
  }

  /** @param {string | undefined} name */
  _next(name) {
    // A button that has the focus does not vanish under it.
    const { next } = this;
    next.hidden = !name && document.activeElement !== next;
    next.textContent = name === "finish" ? "Go to the hand-in" : `Go to ${name ?? "the next question"}`;
    next.dataset.name = name ?? "";
    next.setAttribute("aria-disabled", String(!name));
  }

  /** @param {Standing} standing */
  _status({ status, word, detail }) {
    const sign = make("span", "tk-strip-sign", SIGNS[status]);
    sign.setAttribute("aria-hidden", "true");
    const parts = [sign, make("strong", "", word)];
    if (detail) parts.push(make("span", "tk-strip-detail", detail));
    this.status.replaceChildren(...parts.flatMap((part) => [part, " "])); // apart when read aloud, too
  }

  /**
   * Said aloud only when it has changed: how it stands, then how far, then what else there is.
   * @param {StripView} view
   */
  _say(view) {
    if (view.silent) return;
    const now = [
      view.aloud ?? `${view.word}${view.detail ? `, ${view.detail}` : ""}.`,
      view.status === "waiting" ? "" : view.count && `${view.count}.`,
      ...view.notes,
    ];
    const before = this.last_;
    const changed = now.filter((text) => text && !before.includes(text));
    this.last_ = now;
    if (changed.length) this.said.textContent = changed.join(" ");
  }
}
