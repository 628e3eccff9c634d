// A checklist for a tablet. Each choice goes to the kernel at once; until that has said that the line is on the disk,
// the screen says NOT SAVED, and what was chosen is kept in this page and sent again.

import { held } from "../../../../trainkit/widgets/browser/drafts.js";
import { installGuard } from "../../../../trainkit/widgets/browser/guard.js";
import { freshId, make } from "../../../../trainkit/widgets/browser/page.js";
import { Post } from "../../../../trainkit/widgets/browser/post.js";
import { CHOICES_NOT_SAVED } from "../../../../trainkit/widgets/browser/sentences.js";
import { clockTime } from "../../../../trainkit/widgets/browser/values.js";

/** @import { Model } from "../../../../trainkit/widgets/browser/shapes.js" */
/**
 * What is on a sheet, as `trainkit_grading/signoff/tablet.py` writes it.
 * @typedef {{ what: string, label: string, needed: boolean, limit: number }} Field
 * @typedef {{ what: string, number: number, text: string, critical: boolean }} Step
 * @typedef {{ name: string, heading: string, code: string, draft: string, outcomes: string[], fields: Field[],
 *   steps: Step[], values: Record<string, string>, again: boolean, signed: string, file: string }} Sheet
 * @typedef {{ type: "refused", text: string }} Refused
 * @typedef {"none" | "draft" | "saving" | "saved" | "failed"} LineState
 * @typedef {{ show(value: string, state: LineState): void, focus(): void }} Part
 */

const AGAIN = 4000;
/** @type {Record<string, string>} */
const SIGNS = { unprompted: "●", prompted: "◐", "not done": "○", "stopped for safety": "■" };
/** @type {Record<string, number | undefined>} */
const KEYS = { u: 0, p: 1, n: 2, s: 3 };

/** @type {Record<string, number | undefined>} */
const MOVES = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 };
/** @type {Record<LineState, string>} */
const STATES = { none: "", draft: "▲ NOT SAVED yet", saving: "… saving", saved: "✓ saved", failed: "▲ NOT SAVED" };

class SheetView {
  /** @type {Record<string, string>} */
  values = {};
  /** @type {Map<string, string>} what was chosen and is not on the disk yet */
  pending = new Map();
  /** @type {Map<string, Part>} by what it is: how to show its value and whether it is saved */
  parts = new Map();
  signed = "";
  failed = "";
  state = make("p", { class: "tk-sheet-state", role: "status", "aria-live": "polite", "aria-atomic": "true" });
  count = make("p", { class: "tk-sheet-count" });
  alarm = make("p", { class: "tk-alarm", role: "alert" });
  done = make("p", { class: "tk-done" });
  after = make(
    "div",
    { class: "tk-after" },
    this.done,
    button("Show single steps again", "tk-plain tk-again", () => this.begin(true)),
    button("Begin a new observation", "tk-plain tk-new", () => this.begin(false)),
  );

  /**
   * @param {HTMLElement} root
   * @param {Sheet} shown
   * @param {Post} post
   */
  constructor(root, shown, post) {
    this.root = root;
    this.post = post;
    this.shown = shown;
    this.draw(shown);
    this.timer = setInterval(() => this.sendAgain(), AGAIN);
  }

  /** @param {Sheet} shown */
  draw(shown) {
    this.shown = shown;
    this.values = { ...shown.values };
    this.pending = new Map();
    this.parts = new Map();
    this.signed = shown.signed;
    const titleId = freshId("sheet");
    const { root } = this;
    root.setAttribute("aria-labelledby", titleId);
    root.dataset.name = shown.name;
    root.replaceChildren(
      make(
        "div",
        { class: "tk-sheet-head" },
        make("p", { class: "tk-title", id: titleId, role: "heading", "aria-level": "2" }, shown.heading),
        make("p", { class: "tk-sheet-code" }, `Sheet ${shown.code}`),
        this.state,
        this.count,
      ),
      shown.again ? make("p", {}, "Single steps are shown again. Choose for these only.") : "",
      make(
        "div",
        { class: "tk-fields" },
        ...shown.fields.filter((each) => each.needed).map((each) => this.field(each)),
      ),
      make("ol", { class: "tk-steps" }, ...shown.steps.map((step) => this.step(step))),
      make(
        "div",
        { class: "tk-fields" },
        ...shown.fields.filter((each) => !each.needed).map((each) => this.field(each)),
      ),
      make(
        "div",
        { class: "tk-foot" },
        button("Sign: this is what I saw", "tk-main tk-sign", () => this.toSign()),
      ),
      this.alarm,
      this.after,
    );
    for (const [what, part] of this.parts) part.show(this.values[what] ?? "", this.values[what] ? "saved" : "none");
    /** @type {Record<string, string> | null} */
    const draft = held.read(shown.draft);
    for (const [what, value] of Object.entries(draft ?? {})) {
      if (this.parts.has(what) && this.values[what] !== value) this.put(what, value);
    }
    this.say();
  }

  /** @param {Field} field */
  field({ what, label, needed, limit }) {
    const id = freshId("field");
    const note = make("span", { class: "tk-line-state", id: `${id}-state` });
    const box = /** @type {HTMLTextAreaElement} */ (
      make(needed ? "input" : "textarea", {
        id,
        maxlength: limit,
        autocomplete: "off",
        rows: needed ? false : 3,
        "aria-describedby": `${id}-state`,
        "aria-required": String(needed),
      })
    );
    /** @type {ReturnType<typeof setTimeout> | undefined} */
    let timer;
    const save = () => {
      clearTimeout(timer);
      if (box.value !== (this.pending.get(what) ?? this.values[what] ?? "")) this.put(what, box.value);
    };
    box.addEventListener("input", () => {
      clearTimeout(timer);
      timer = setTimeout(save, 1200);
      this.mark(note, "draft");
    });
    box.addEventListener("change", save);
    box.addEventListener("keydown", (event) => {
      if (event.key === "Enter" && needed && !event.isComposing) save();
    });
    this.parts.set(what, {
      show: (value, state) => {
        if (document.activeElement !== box && box.value !== value) box.value = value;
        this.mark(note, state);
      },
      focus: () => box.focus(),
    });
    return make("div", { class: "tk-field" }, make("label", { for: id }, label), box, note);
  }

  /** @param {Step} step */
  step({ what, number, text, critical }) {
    const id = freshId("step");
    const note = make("span", { class: "tk-line-state", id: `${id}-state` });
    const buttons = this.shown.outcomes.map((outcome, place) =>
      make(
        "button",
        {
          type: "button",
          class: "tk-outcome",
          role: "radio",
          "aria-checked": "false",
          "data-outcome": outcome,
          onclick: () => this.choose(what, buttons, place),
        },
        make("span", { class: "tk-outcome-sign", "aria-hidden": "true" }, SIGNS[outcome]),
        make("span", {}, outcome),
      ),
    );
    const group = make(
      "div",
      { class: "tk-outcomes", role: "radiogroup", "aria-labelledby": id, "aria-describedby": `${id}-state` },
      ...buttons,
    );
    group.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const at = buttons.findIndex((each) => each === document.activeElement);
      const [move, key] = [MOVES[event.key], KEYS[event.key]];
      if (move && at >= 0) this.rove(buttons, (at + move + buttons.length) % buttons.length, true);
      else if (key !== undefined) this.choose(what, buttons, key);
      else return;
      event.preventDefault();
    });
    this.rove(buttons, 0);
    this.parts.set(what, {
      show: (value, state) => {
        for (const each of buttons) each.setAttribute("aria-checked", String(each.dataset.outcome === value));
        const at = buttons.findIndex((each) => each.dataset.outcome === value);
        if (at >= 0) this.rove(buttons, at);
        row.dataset.outcome = value;
        this.mark(note, state);
      },
      focus: () => buttons[0].focus(),
    });
    const row = make(
      "li",
      { class: critical ? "tk-step tk-critical-step" : "tk-step", "data-what": what },
      make(
        "div",
        { class: "tk-step-line" },
        make(
          "p",
          { class: "tk-step-text", id },
          make("span", { class: "tk-step-number" }, `${number}.`),
          make("span", {}, text),
          critical ? make("strong", { class: "tk-critical-word" }, "▲ CRITICAL") : "",
        ),
        note,
      ),
      group,
    );
    return row;
  }

  /**
   * @param {HTMLElement[]} buttons
   * @param {number} at
   * @param {boolean} [focus]
   */
  rove(buttons, at, focus = false) {
    buttons.forEach((each, place) => each.setAttribute("tabindex", place === at ? "0" : "-1"));
    if (focus) buttons[at].focus();
  }

  /**
   * @param {string} what
   * @param {HTMLElement[]} buttons
   * @param {number} place
   */
  choose(what, buttons, place) {
    this.rove(buttons, place, true);
    this.put(what, buttons[place].dataset.outcome ?? "");
  }

  /**
   * @param {HTMLElement} note
   * @param {LineState} state
   */
  mark(note, state) {
    note.dataset.state = state;
    note.textContent = STATES[state];
  }

  /**
   * @param {string} what
   * @param {string} value
   */
  put(what, value) {
    this.pending.set(what, value);
    this.signed = "";
    this.keep();
    this.send(what);
  }

  keep() {
    if (this.pending.size) held.write(this.shown.draft, Object.fromEntries(this.pending));
    else held.drop(this.shown.draft);
  }

  /** @param {string} what */
  send(what) {
    const value = this.pending.get(what);
    const part = this.parts.get(what);
    if (value === undefined || !part) return;
    part.show(value, "saving");
    this.say();
    this.post.ask(
      { type: "note", what, value },
      (/** @type {Refused | { type: "saved" }} */ reply) => {
        if (this.pending.get(what) !== value) return; // something newer was chosen meanwhile
        if (reply.type !== "saved") {
          part.show(value, "failed");
          this.fail(reply.text);
          return;
        }
        this.pending.delete(what);
        this.values[what] = value;
        this.failed = "";
        this.keep();
        part.show(value, "saved");
        this.say();
      },
      () => {
        if (this.pending.get(what) !== value) return;
        part.show(value, "failed");
        this.fail(CHOICES_NOT_SAVED);
      },
    );
  }

  sendAgain() {
    for (const [what] of this.pending) {
      /** @type {HTMLElement | null} */
      const note = this.root.querySelector(`[data-what="${what}"] .tk-line-state`);
      if (this.failed || note?.dataset.state === "failed") this.send(what);
    }
  }

  /** @param {string} text */
  fail(text) {
    this.failed = text;
    this.say();
  }

  say() {
    const { root, shown, pending } = this;
    const chosen = shown.steps.filter((step) => this.values[step.what] || pending.has(step.what)).length;
    const status = this.failed
      ? "failed"
      : pending.size
        ? "saving"
        : Object.keys(this.values).length
          ? "saved"
          : "none";
    root.dataset.status = status;
    const words = {
      none: "○ Nothing chosen yet",
      saving: "… Saving",
      saved: this.signed ? `✓ SAVED and signed ${clockTime(this.signed)}` : "✓ SAVED",
      failed: `▲ NOT SAVED: ${pending.size}`,
    }[status];
    if (this.state.textContent !== words) this.state.textContent = words;
    this.count.textContent = `${chosen} of ${shown.steps.length} steps`;
    this.alarm.textContent = this.failed;
    this.after.hidden = !this.signed;
    this.done.textContent = this.signed ? `Signed. It goes on record with: trainkit-course observe ${shown.file}` : "";
  }

  toSign() {
    this.failed = "";
    if (this.pending.size) {
      this.fail("Something is not saved yet. Wait until it is, then sign.");
      return;
    }
    const silent = () => this.fail("The notebook does not answer. It is NOT SIGNED. Press again.");
    this.post.ask(
      { type: "sign" },
      (/** @type {Refused | { type: "signed", at: string }} */ reply) => {
        if (reply.type !== "signed") {
          this.say();
          this.alarm.textContent = reply.text; // everything chosen is saved; it only cannot be signed yet
          return;
        }
        this.signed = reply.at;
        this.say();
      },
      silent,
    );
  }

  /** @param {boolean} again */
  begin(again) {
    this.post.ask(
      { type: "begin", again },
      (/** @type {Refused | { type: "begun", shown: Sheet }} */ reply) => {
        if (reply.type !== "begun") {
          this.fail(reply.text);
          return;
        }
        this.draw(reply.shown);
        this.parts.get("observer")?.focus();
      },
      () => this.fail("The notebook does not answer. Press again."),
    );
  }

  close() {
    clearInterval(this.timer);
  }
}

/**
 * @param {string} words
 * @param {string} kind
 * @param {() => void} press
 */
function button(words, kind, press) {
  return make("button", { type: "button", class: kind, onclick: press }, words);
}

/** @param {{ model: Model, el: HTMLElement }} place */
function render({ model, el }) {
  installGuard();
  const root = make("section", { class: "tk-question tk-sheet", tabindex: "-1" });
  el.replaceChildren(root);
  const post = new Post(model);
  const view = new SheetView(root, /** @type {Sheet} */ (model.get("shown")), post);
  return () => {
    view.close();
    post.close();
  };
}

export default { initialize: installGuard, render };
