// A checklist for a tablet. Each choice goes to the kernel at once; until that has said that the line is on the disk,
// the screen says NOT SAVED, and what was chosen is kept in this tab and sent again.

const AGAIN = 4000;
const SIGNS = { unprompted: "●", prompted: "◐", "not done": "○", "stopped for safety": "■" };
const KEYS = { u: 0, p: 1, n: 2, s: 3 };

class SheetView {
  constructor(root, shown, post) {
    this.root = root;
    this.post = post;
    this.draw(shown);
    this.timer = setInterval(() => this.sendAgain(), AGAIN);
  }

  draw(shown) {
    this.shown = shown;
    this.values = { ...shown.values };
    this.pending = new Map(); // what was chosen and is not on the disk yet
    this.parts = new Map(); // by what it is: how to show its value and whether it is saved
    this.signed = shown.signed;
    const titleId = freshId("sheet");
    const { root } = this;
    root.setAttribute("aria-labelledby", titleId);
    root.dataset.name = shown.name;
    this.state = make("p", { class: "tk-sheet-state", role: "status", "aria-live": "polite", "aria-atomic": "true" });
    this.count = make("p", { class: "tk-sheet-count" });
    this.alarm = make("p", { class: "tk-alarm", role: "alert" });
    const button = (words, kind, press) => make("button", { type: "button", class: kind, onclick: press }, words);
    this.sign = button("Sign: this is what I saw", "tk-main tk-sign", () => this.toSign());
    this.after = make(
      "div",
      { class: "tk-after" },
      make("p", { class: "tk-done" }),
      button("Show single steps again", "tk-plain tk-again", () => this.begin(true)),
      button("Begin a new observation", "tk-plain tk-new", () => this.begin(false)),
    );
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
      make("div", { class: "tk-fields" }, ...shown.fields.filter((each) => each.needed).map((each) => this.field(each))),
      make("ol", { class: "tk-steps" }, ...shown.steps.map((step) => this.step(step))),
      make("div", { class: "tk-fields" }, ...shown.fields.filter((each) => !each.needed).map((each) => this.field(each))),
      make("div", { class: "tk-foot" }, this.sign),
      this.alarm,
      this.after,
    );
    for (const [what, part] of this.parts) part.show(this.values[what] ?? "", this.values[what] ? "saved" : "none");
    const draft = drafts.read(shown.draft);
    for (const [what, value] of Object.entries(draft ?? {})) {
      if (this.parts.has(what) && this.values[what] !== value) this.put(what, value);
    }
    this.say();
  }

  field({ what, label, needed, limit }) {
    const id = freshId("field");
    const note = make("span", { class: "tk-line-state", id: `${id}-state` });
    const box = make(needed ? "input" : "textarea", {
      id, maxlength: limit, autocomplete: "off", rows: needed ? false : 3, "aria-describedby": `${id}-state`,
      "aria-required": String(needed),
    });
    let timer = 0;
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

  step({ what, number, text, critical }) {
    const id = freshId("step");
    const note = make("span", { class: "tk-line-state", id: `${id}-state` });
    const buttons = this.shown.outcomes.map((outcome, place) =>
      make(
        "button",
        {
          type: "button", class: "tk-outcome", role: "radio", "aria-checked": "false", "data-outcome": outcome,
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
      const at = buttons.indexOf(document.activeElement);
      const move = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
      if (move && at >= 0) this.rove(buttons, (at + move + buttons.length) % buttons.length, true);
      else if (event.key in KEYS) this.choose(what, buttons, KEYS[event.key]);
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

  rove(buttons, at, focus = false) {
    buttons.forEach((each, place) => each.setAttribute("tabindex", place === at ? "0" : "-1"));
    if (focus) buttons[at].focus();
  }

  choose(what, buttons, place) {
    this.rove(buttons, place, true);
    this.put(what, buttons[place].dataset.outcome);
  }

  mark(note, state) {
    note.dataset.state = state;
    note.textContent = { none: "", draft: "▲ NOT SAVED yet", saving: "… saving", saved: "✓ saved", failed: "▲ NOT SAVED" }[state];
  }

  put(what, value) {
    this.pending.set(what, value);
    this.signed = "";
    this.keep();
    this.send(what);
  }

  keep() {
    if (this.pending.size) drafts.write(this.shown.draft, Object.fromEntries(this.pending));
    else drafts.drop(this.shown.draft);
  }

  send(what) {
    const value = this.pending.get(what);
    const part = this.parts.get(what);
    part.show(value, "saving");
    this.say();
    this.post.ask(
      { type: "note", what, value },
      (reply) => {
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
        this.fail(
          "The notebook does not answer. Your choices are kept here and are saved as soon as it does. " +
            "If it stays so: menu Kernel, “Restart Kernel and Run All Cells…”.",
        );
      },
    );
  }

  sendAgain() {
    for (const [what] of this.pending) {
      const note = this.root.querySelector(`[data-what="${what}"] .tk-line-state`);
      if (this.failed || note?.dataset.state === "failed") this.send(what);
    }
  }

  fail(text) {
    this.failed = text;
    this.say();
  }

  say() {
    const { root, shown, pending } = this;
    const chosen = shown.steps.filter((step) => this.values[step.what] || pending.has(step.what)).length;
    const status = this.failed ? "failed" : pending.size ? "saving" : Object.keys(this.values).length ? "saved" : "none";
    root.dataset.status = status;
    const words = {
      none: "○ Nothing chosen yet",
      saving: "… Saving",
      saved: this.signed ? `✓ SAVED and signed ${clockTime(this.signed)}` : "✓ SAVED",
      failed: `▲ NOT SAVED: ${pending.size}`,
    }[status];
    if (this.state.textContent !== words) this.state.textContent = words;
    this.count.textContent = `${chosen} of ${shown.steps.length} steps`;
    this.alarm.textContent = this.failed ?? "";
    this.after.hidden = !this.signed;
    this.after.querySelector(".tk-done").textContent = this.signed
      ? `Signed. It goes on record with: trainkit-course observe ${shown.file}`
      : "";
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
      (reply) => {
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

  begin(again) {
    this.post.ask(
      { type: "begin", again },
      (reply) => {
        if (reply.type !== "begun") {
          this.fail(reply.text);
          return;
        }
        this.draw(reply.shown);
        this.parts.get("observer").focus();
      },
      () => this.fail("The notebook does not answer. Press again."),
    );
  }

  close() {
    clearInterval(this.timer);
  }
}

function render({ model, el }) {
  installGuard();
  const root = make("section", { class: "tk-question tk-sheet", tabindex: "-1" });
  el.replaceChildren(root);
  const post = new Post(model);
  const view = new SheetView(root, model.get("shown"), post);
  return () => {
    view.close();
    post.close();
  };
}

export default { initialize: installGuard, render };
