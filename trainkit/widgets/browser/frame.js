// The frame round every question: what is asked, the control, and whether the answer is on the disk. The one truth
// about that is what the kernel has said; until it has, the screen says NOT SAVED.

import { compared } from "./answered.js";
import { howTo, showBegun } from "./begun.js";
import { calculator, hasNumbers } from "./calculator.js";
import { CONTROLS } from "./controls.js";
import { Drafts } from "./drafts.js";
import { givenShown, whichOne } from "./given.js";
import { drawing, freshId, make } from "./page.js";
import { ELSEWHERE, ELSEWHERE_SHOWN, NOT_CHECKED, NOT_SAVED, SILENT } from "./sentences.js";
import { clockTime, same } from "./values.js";

/** @import { BenchReply, Elsewhere, Explained, Question, QuestionReply, Response, Saved } from "./shapes.js" */
/** @typedef {"none" | "draft" | "saving" | "saved" | "failed"} Status */

/** @type {Record<Status, [sign: string, word: string, detail: string]>} */
const STATUS = {
  none: ["○", "Not answered", ""],
  draft: ["▲", "NOT SAVED", "yet"],
  saving: ["…", "Saving", ""],
  saved: ["✓", "SAVED", ""],
  failed: ["▲", "NOT SAVED", ""],
};

/** @type {Record<string, string | undefined>} */
const SIGNS = { right: "✓", "in part": "◐", "not yet": "→" };

export class Frame {
  controller = new AbortController();
  /** @type {Saved | null} */
  saved = null;
  /** @type {Response | null} */
  sent = null;
  begun = make("div", { class: "tk-begun" });
  status = make("p", { class: "tk-status", role: "status", "aria-live": "polite", "aria-atomic": "true" });
  alarm = make("p", { class: "tk-alarm", role: "alert" });
  explained = make("div", { class: "tk-explained", role: "status", "aria-live": "polite" });
  tally = make("p", { class: "tk-tally" });
  /** What was done in another window, with a button that shows it. */
  other = make("div", { class: "tk-other", role: "status", "aria-live": "polite" });

  /**
   * @param {HTMLElement} root
   * @param {Question} shown
   * @param {import("./post.js").Post} post
   */
  constructor(root, shown, post) {
    this.root = root;
    this.post = post;
    this.shown = shown;
    this.drafts = new Drafts(post, shown.draft, shown.kept);
    post.news = (/** @type {Elsewhere} */ news) => news.type === "elsewhere" && this.elsewhere(news);
    // A page that is closed may still say what was typed last.
    this.leaving = () => this.drafts.flush();
    window.addEventListener("pagehide", this.leaving);
    this.control = this.draw(shown);
    this.restore();
  }

  get assess() {
    return this.shown.mode === "assess";
  }

  /** @param {Question} shown */
  draw(shown) {
    this.controller.abort();
    this.controller = new AbortController();
    this.shown = shown;
    this.saved = shown.saved;
    this.sent = null;
    const { root } = this;
    const titleId = freshId("title");
    root.setAttribute("aria-labelledby", titleId);
    root.dataset.kind = shown.kind;
    root.dataset.mode = shown.mode;
    root.dataset.name = shown.name;

    const control = CONTROLS[shown.kind](shown, {
      post: this.post,
      root,
      signal: this.controller.signal,
      changed: () => this.changed(),
      settle: () => this.settle(),
      playing: () => this.playing(),
      played: (reply) => this.played(reply),
      silent: () => this.unheard(NOT_SAVED),
    });
    const settle = make(
      "button",
      { type: "button", class: "tk-main tk-settle", onclick: () => this.settle() },
      shown.buttons[0],
    );
    const next = make(
      "button",
      { type: "button", class: "tk-plain tk-next", onclick: () => this.next() },
      shown.buttons[1],
    );
    this.begun.replaceChildren();
    this.other.replaceChildren();
    root.replaceChildren(
      make(
        "div",
        { class: "tk-head" },
        make("p", { class: "tk-title", id: titleId, role: "heading", "aria-level": "3" }, shown.heading),
        make("p", { class: "tk-points" }, this.assess ? shown.points : whichOne(shown)),
      ),
      shown.pace ? make("p", { class: "tk-pace" }, shown.pace) : "",
      ...shown.prompt.map((text) => make("p", { class: "tk-prompt" }, text)),
      shown.given.length ? givenShown(shown) : "",
      shown.figure ? drawing(shown.figure) : "",
      shown.how ? howTo(shown.how) : "",
      shown.begun ? this.begun : "",
      make("div", { class: "tk-control" }, control.node),
      make(
        "div",
        { class: "tk-foot" },
        control.bench ? "" : settle,
        shown.show ? this.showButton(shown.show) : "",
        this.status,
        this.assess ? "" : this.tally,
        shown.buttons[1] ? next : "",
      ),
      this.alarm,
      this.other,
      this.explained,
      hasNumbers(shown) ? calculator() : "", // last: it is no stop on the way to the button
    );
    return control;
  }

  restore() {
    if (this.shown.begun) showBegun(this, this.shown.begun);
    if (!this.assess) {
      this.say("none");
      this.explain(this.shown.explained, this.shown.tally);
      return;
    }
    if (this.control.bench) {
      this.say(this.saved ? "saved" : "none");
      return;
    }
    if (this.saved) this.control.set(this.saved.response);
    const draft = this.drafts.read();
    if (!draft || (this.saved && same(draft.response, this.saved.response))) {
      this.drafts.drop();
      this.say(this.saved ? "saved" : "none");
      return;
    }
    this.control.set(draft.response);
    // It is sent by itself only if the person had pressed Save and nothing newer has been recorded since.
    const newest = draft.base === (this.saved?.n ?? 0);
    if (draft.pressed && newest) this.settle();
    else this.say("draft");
    if (!newest && this.saved) this.offer(ELSEWHERE);
  }

  /** @param {Status} kind */
  say(kind) {
    // While something is typed or dragged it stays NOT SAVED; that need not be said aloud at every step.
    if (kind === "draft" && this.root.dataset.status === kind) return;
    const [sign, word, detail] = STATUS[kind];
    const { status, root } = this;
    root.dataset.status = kind;
    const practising = !this.assess && kind !== "saving" && kind !== "failed";
    status.replaceChildren(
      practising ? "" : make("span", { class: "tk-sign-of", "aria-hidden": "true" }, sign),
      practising ? "" : make("strong", {}, this.assess ? word : kind === "saving" ? "Checking" : "Not checked"),
      practising ? "" : ` ${kind === "saved" && this.saved ? clockTime(this.saved.at) : detail}`,
    );
    if (kind !== "failed") this.alarm.textContent = "";
    delete root.dataset.unheard;
  }

  /** @param {string} text */
  fail(text) {
    this.say("failed");
    this.alarm.textContent = text;
  }

  /**
   * The kernel says nothing; the strip offers to start it again.
   * @param {string} text
   */
  unheard(text) {
    this.fail(text);
    this.root.dataset.unheard = "true";
  }

  changed() {
    if (!this.assess) {
      if (this.root.dataset.status === "failed") this.say("none");
      return;
    }
    const response = this.control.value();
    if (this.saved && response && same(response, this.saved.response)) {
      this.drafts.drop();
      this.say("saved");
    } else if (response) {
      this.drafts.write({ response, pressed: false, base: this.saved?.n ?? 0 });
      this.say("draft");
    } else this.say(this.saved ? "draft" : "none");
  }

  settle() {
    const response = this.control.value();
    if (!response) {
      this.fail(this.control.missing);
      this.control.focus();
      return;
    }
    const base = this.saved?.n ?? 0;
    if (this.assess) this.drafts.write({ response, pressed: true, base });
    this.sent = response;
    this.other.replaceChildren();
    this.say("saving");
    const unheard = () => {
      if (this.sent === response) this.unheard(this.assess ? NOT_SAVED : NOT_CHECKED);
    };
    const send = () => {
      if (this.sent !== response) return; // something newer was sent meanwhile
      this.post.ask(
        { type: "save", response, base },
        (/** @type {QuestionReply} */ reply) => this.settled(reply, response),
        unheard,
        { twice: this.assess }, // the kernel knows the answer again, and records it once
      );
    };
    /** @param {string} words what the person has to decide first */
    const held = (words) => {
      if (this.sent !== response) return;
      this.sent = null;
      if (this.assess) this.drafts.write({ response, pressed: false, base });
      this.fail(words);
    };
    if (this.control.before) this.control.before(send, unheard, held);
    else send();
  }

  /**
   * @param {QuestionReply} reply
   * @param {Response} response
   */
  settled(reply, response) {
    if (reply.type === "refused") {
      if (this.sent === response) this.fail(reply.text);
      // What cannot be recorded is not sent again by itself.
      if (this.assess) this.drafts.write({ response, pressed: false, base: this.saved?.n ?? 0 });
      return;
    }
    if (reply.type === "elsewhere") {
      if (this.sent === response) this.sent = null;
      this.elsewhere(reply);
      return;
    }
    if (reply.type === "explained") {
      this.say("none");
      this.explain(reply.explained, reply.tally);
      if (reply.begun) showBegun(this, reply.begun);
      return;
    }
    if (reply.type !== "saved") return;
    this.saved = reply.saved;
    const now = this.control.value();
    if (same(now, response) || same(now, this.saved.response)) {
      this.sent = null;
      this.drafts.forget();
      if (!same(now, this.saved.response)) this.control.set(this.saved.response);
      this.say("saved");
    } else {
      this.drafts.write({ response: now, pressed: false, base: this.saved.n });
      this.say("draft");
    }
  }

  /**
   * The question was answered in another window. What is here and not saved stays here until the person decides.
   * @param {Elsewhere} news
   */
  elsewhere({ saved, play }) {
    if (this.control.play) {
      if (play) this.control.play(play);
      this.saved = saved;
      this.say(saved ? "saved" : "none");
      this.other.replaceChildren(make("p", {}, ELSEWHERE_SHOWN));
      return;
    }
    const before = this.saved;
    const now = this.control.value();
    this.saved = saved;
    if (!saved || this.sent) return; // the answer to what was sent comes next
    if (now && !same(now, before?.response) && !same(now, saved.response)) {
      this.drafts.write({ response: now, pressed: false, base: saved.n });
      this.say("draft");
      this.offer(ELSEWHERE);
    } else this.put();
  }

  /** Show what is recorded. */
  put() {
    this.drafts.drop();
    if (this.saved) this.control.set(this.saved.response);
    this.say("saved");
    this.other.replaceChildren(make("p", {}, ELSEWHERE_SHOWN));
  }

  /** @param {string} words */
  offer(words) {
    const show = () => {
      this.put();
      this.control.focus();
    };
    this.other.replaceChildren(
      make("p", {}, words),
      make("button", { type: "button", class: "tk-plain tk-show-other", onclick: show }, "Show it"),
    );
  }

  playing() {
    this.other.replaceChildren();
    this.say("saving");
  }

  /** @param {BenchReply} reply */
  played(reply) {
    if (reply.type === "refused") {
      this.fail(reply.text);
      return;
    }
    if (this.assess) this.saved = reply.saved ?? null;
    if (reply.elsewhere) this.other.replaceChildren(make("p", {}, ELSEWHERE_SHOWN));
    this.say(this.assess && this.saved ? "saved" : "none");
    if (!this.assess) this.explain(reply.explained, reply.tally);
  }

  /**
   * @param {Explained | null | undefined} explained
   * @param {string | undefined} tally
   */
  explain(explained, tally) {
    this.tally.textContent = tally ?? "";
    if (!explained) {
      this.explained.replaceChildren();
      return;
    }
    const sign = SIGNS[explained.verdict] ?? "→";
    this.explained.replaceChildren(
      make(
        "div",
        { class: "tk-verdict", "data-verdict": explained.verdict },
        make("span", { class: "tk-sign-of", "aria-hidden": "true" }, sign),
        make("strong", {}, explained.word),
      ),
      // What could hurt somebody is said first.
      explained.critical ? unsafe() : "",
      explained.reason ? make("p", {}, explained.reason) : "",
      explained.note ? make("p", { class: "tk-note-line" }, explained.note) : "",
      ...compared(explained),
      ...(explained.working.length
        ? [
            make("p", { class: "tk-working-title" }, explained.title),
            make(
              "ol",
              { class: "tk-working", start: String(explained.from) },
              ...explained.working.map((line) => make("li", {}, line)),
            ),
          ]
        : []),
    );
  }

  /** @param {string} words */
  showButton(words) {
    return make("button", { type: "button", class: "tk-plain tk-show", onclick: () => this.showAnswer() }, words);
  }

  showAnswer() {
    this.say("saving");
    this.post.ask(
      { type: "show" },
      (/** @type {Extract<QuestionReply, { type: "explained" | "refused" }>} */ reply) => {
        if (reply.type !== "explained") {
          this.fail(reply.text);
          return;
        }
        this.say("none");
        this.explain(reply.explained, reply.tally);
      },
      () => this.fail(SILENT),
    );
  }

  next() {
    this.say("saving");
    this.post.ask(
      { type: "next" },
      (/** @type {Extract<QuestionReply, { type: "next" | "refused" }>} */ reply) => {
        if (reply.type !== "next") {
          this.fail(reply.text);
          return;
        }
        this.control = this.draw(reply.shown);
        this.restore();
        this.control.focus();
      },
      () => this.unheard(SILENT),
    );
  }

  close() {
    this.controller.abort();
    window.removeEventListener("pagehide", this.leaving);
    this.drafts.flush();
  }
}

const unsafe = () =>
  make("p", { class: "tk-critical" }, "Unsafe answer: on a real engine it could injure a person or damage the engine.");
