// One opened workbook: getting it ready, and what its strip says.

import { CodeCell } from "@jupyterlab/cells";
import { connect } from "./channel.js";
import { Link, Unheard, answered, pause } from "./kernel.js";
import { keepKeys } from "./keys.js";
import { Reader } from "./reading.js";
import { OPENING, isCode, isForm, isHidden, isLocked, nameOf, source } from "./recognise.js";
import { standing } from "./standing.js";
import { Strip } from "./strip.js";
import { Terms } from "./terms.js";

/** @import { Cell } from "@jupyterlab/cells" */
/** @import { Notebook, NotebookPanel } from "@jupyterlab/notebook" */
/** @import { State } from "./shapes.js" */

// Before anything runs by itself, the workbook's own folder goes out of the places where Python looks for code: a file
// trainkit.py that lies beside a notebook is not carried out by opening it.
const OWN_CODE_ONLY = "import sys; sys.path[:] = [place for place in sys.path if place]";
// Another program may record in the same folder: looked at while somebody works here, or comes back.
const LOOK_EVERY = 5000;
const WORKS_FOR = 300_000;
const TRIES = 3;

/**
 * What stands beside a cell: "*" while it waits or runs. JupyterLab's types keep it for its own cells.
 * @param {CodeCell} cell
 */
const promptOf = (cell) => /** @type {{ prompt?: string }} */ (/** @type {unknown} */ (cell)).prompt;

export class Workbook {
  /** @type {{ code: Set<string>, text: Set<string> } | null} the module's own notebook, once the kernel has told */
  authored = null;
  /** @type {State | null} */
  state = null;
  started = false;
  ready = false;
  /** It was ready before the kernel went away. */
  wasReady = false;
  checking = false;
  looking = false;
  missed = 0;
  trouble = "";
  tries = 0;
  turn = 0;
  total = 0;
  done = 0;
  broken = 0;
  foreign = 0;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  waiting;
  /** @type {Element | null | undefined} */
  focused;
  /** @type {ReturnType<typeof connect> | undefined} */
  channel;
  /** @type {import("./calm.js").Calm | undefined} on the page that shows one step at a time */
  calm;

  /**
   * @param {NotebookPanel} panel
   * @param {CodeCell} opening
   */
  constructor(panel, opening) {
    this.panel = panel;
    /** @type {Notebook} */
    this.notebook = panel.content;
    this.opening = opening;
    this.strip = new Strip(
      (name) => name && void this.go(name),
      () => (this.reader.reads ? this.reader.stop() : void this.reader.read(this.places())),
      () => void this.link.again(),
    );
    this.link = new Link(panel.sessionContext, {
      gone: () => this.gone(),
      back: (fresh) => void this.back(fresh),
      show: () => this.later(),
    });
    panel.contentHeader.addWidget(this.strip);
    panel.toolbar.hide(); // its buttons are for cells; what a workbook needs of them stands in the menus
    panel.addClass("tk-workbook");
    keepKeys(panel);
    this.terms = new Terms(this.notebook.node, (text) => this.strip.tell(text));
    this.reader = new Reader(() => this.strip.voice(this.reader.can, this.reader.reads));
    this.strip.voice(this.reader.can, false);
    this.notebook.node.addEventListener("focusin", ({ target }) => {
      this.focused = target instanceof Element ? target.closest(".tk-question") : null;
    });
    this.watch = new MutationObserver(() => this.later());
    this.dress();
    this.notebook.model?.cells.changed.connect(() =>
      requestAnimationFrame(() => {
        if (!panel.isDisposed) this.dress();
      }),
    );
    this.worked = Date.now();
    this.works = () => (this.worked = Date.now());
    this.comes = () => document.visibilityState === "visible" && void this.look();
    for (const each of ["keydown", "pointerdown"]) this.notebook.node.addEventListener(each, this.works, true);
    document.addEventListener("visibilitychange", this.comes);
    window.addEventListener("focus", this.comes);
    this.looks = setInterval(() => {
      if (document.visibilityState === "visible" && Date.now() - this.worked < WORKS_FOR) void this.look();
    }, LOOK_EVERY);
    panel.disposed.connect(() => this.close());
    this.show();
  }

  /**
   * What a cell is to the one who reads: covered cells show no code, fixed ones are text of the workbook's own, foreign
   * ones are somebody else's.
   * @param {Cell} cell
   */
  kind(cell) {
    if (cell === this.opening || isForm(cell)) return "covered";
    if (!isCode(cell)) return !this.authored || this.authored.text.has(source(cell)) ? "fixed" : "foreign";
    const own = this.authored ? this.authored.code.has(source(cell)) : isLocked(cell);
    if (!own) return "foreign";
    return isHidden(cell) ? "covered" : "";
  }

  dress() {
    this.foreign = 0;
    this.watch.disconnect();
    for (const cell of this.notebook.widgets) {
      const kind = this.kind(cell);
      for (const each of ["covered", "fixed", "foreign"]) cell.toggleClass(`tk-${each}`, kind === each);
      if (kind === "foreign" && isCode(cell) && source(cell).trim()) this.foreign += 1;
      // What a question says of itself, whether the page shows it just now or not.
      if (isForm(cell))
        this.watch.observe(cell.node, { subtree: true, childList: true, attributeFilter: ["data-status"] });
    }
    this.calm?.arrange();
    this.later();
  }

  later() {
    if (this.waiting) return;
    this.waiting = setTimeout(() => {
      this.waiting = undefined;
      if (!this.panel.isDisposed) this.show();
    }, 60);
  }

  gone() {
    this.wasReady ||= this.ready;
    this.ready = false;
    this.turn += 1; // whatever was running stops here
  }

  /**
   * The kernel is there again: the old one, which knows the workbook, or one that begins anew.
   * @param {boolean} fresh
   */
  async back(fresh) {
    if (!this.started) return undefined;
    this.tries = 0;
    const turn = ++this.turn;
    this.checking = !fresh && this.wasReady;
    const known = this.checking && (await this.channel?.look());
    if (turn !== this.turn) return undefined;
    this.checking = false;
    if (!known) return this.prepare();
    this.ready = true;
    this.show();
    return undefined;
  }

  /** Let questions show what was recorded elsewhere, and find out whether the kernel still knows the workbook. */
  async look() {
    if (!this.ready || !this.link.idle || this.looking) return;
    const { turn } = this;
    this.looking = true;
    const known = await this.channel?.look();
    this.looking = false;
    if (turn !== this.turn || !this.ready) return;
    // Twice, as one look may have met a kernel that was just beginning something long.
    this.missed = known ? 0 : this.missed + 1;
    if (this.missed < 2 || !this.link.idle) return;
    this.missed = 0;
    await this.prepare();
  }

  get kernel() {
    return this.link.kernel;
  }

  /**
   * Run the cells of the workbook: those of its few forms in their order, then its worked examples.
   * @returns {Promise<void>}
   */
  async prepare() {
    const turn = ++this.turn;
    this.started = true;
    this.ready = this.wasReady = false;
    this.trouble = "";
    this.done = this.broken = 0;
    this.show();
    try {
      await this.panel.sessionContext.ready;
      const { kernel } = this;
      if (!kernel) throw new Error("There is no kernel.");
      await this.told(kernel.requestExecute({ code: OWN_CODE_ONLY, silent: true, store_history: false }).done);
      if (turn !== this.turn) return undefined;
      const opened = await this.run(this.opening);
      if (turn !== this.turn) return undefined;
      if (!opened) throw new Error("The opening cell failed.");
      this.channel?.close();
      this.channel = connect(kernel, (state) => {
        this.state = state;
        this.later();
      });
      const { code, text, words } = await this.told(this.channel.opened);
      if (turn !== this.turn) return undefined;
      const authored = { code: new Set(code), text: new Set(text) };
      this.authored = authored;
      this.dress();
      this.terms.learn(words ?? []); // an older release tells none
      const own = this.notebook.widgets.filter(isCode).filter((cell) => cell !== this.opening);
      const examples = own.filter(
        (cell) => !isForm(cell) && !OPENING.test(source(cell)) && authored.code.has(source(cell)),
      );
      const cells = [...own.filter(isForm), ...examples];
      this.total = cells.length;
      for (const cell of cells) {
        if (turn !== this.turn || this.panel.isDisposed) return undefined;
        const fine = cell.isDisposed || (await this.run(cell));
        if (turn !== this.turn) return undefined;
        if (!fine) this.broken += 1;
        this.done += 1;
        this.later();
      }
    } catch (error) {
      if (turn !== this.turn) return undefined;
      if (error instanceof Unheard && ++this.tries < TRIES) return this.prepare();
      if (!this.link.lost)
        this.trouble = "The workbook could not be opened. Press “Start again”. What is saved stays saved.";
    }
    if (turn !== this.turn) return undefined;
    this.ready = true;
    this.tries = 0;
    this.show();
    return undefined;
  }

  /**
   * @template T
   * @param {Promise<T>} asked
   */
  told(asked) {
    return answered(asked, () => this.link.idle === true);
  }

  /** @param {CodeCell} cell */
  async run(cell) {
    // Somebody has asked for it already, as “Run All Cells” does. A kernel with nothing to do has forgotten it.
    for (let idle = 0; promptOf(cell) === "*" && idle < 10;) {
      await pause(100);
      if (cell.isDisposed || !this.link.connected) return false;
      if (promptOf(cell) !== "*") return true;
      idle = this.kernel?.status === "idle" ? idle + 1 : 0;
    }
    try {
      const reply = await this.told(CodeCell.execute(cell, this.panel.sessionContext));
      return reply !== undefined && reply.content.status === "ok";
    } catch (error) {
      if (error instanceof Unheard) throw error;
      return false; // the error stands below the cell
    }
  }

  /**
   * Questions of the assessment that say of themselves one of these.
   * @param {string[]} statuses
   */
  those(...statuses) {
    return this.notebook.widgets.filter(isForm).flatMap(({ node }) => {
      /** @type {NodeListOf<HTMLElement>} */
      const questions = node.querySelectorAll('.tk-question[data-mode="assess"]');
      return [...questions]
        .filter(({ dataset }) => statuses.includes(dataset.status ?? ""))
        .map(({ dataset }) => dataset.name ?? "");
    });
  }

  show() {
    const { state, link } = this;
    const title = state?.title ?? /^# (.+)$/m.exec(this.firstWords())?.[1] ?? "Workbook";
    const unsaved = this.those("draft", "failed");
    const answered = new Set(state?.answered);
    const named = this.notebook.widgets.flatMap((cell) => nameOf(cell) ?? []);
    const names = state ? named.filter((name) => answered.has(name) || state.open.includes(name)) : [];
    this.strip.show_({
      title,
      who: [state?.form && `form ${state.form}`, state?.person].filter(Boolean).join(" · "),
      steps: names.map((name) => ({ answered: answered.has(name), unsaved: unsaved.includes(name) })),
      count: names.length ? `${answered.size} of ${names.length} answered` : "",
      next: this.ready ? (unsaved[0] ?? state?.open[0] ?? (names.length ? "finish" : undefined)) : undefined,
      ...standing({
        away: link.away || this.checking,
        dead: link.dead || link.unreachable,
        slow: link.slow,
        stuck: Boolean(this.trouble),
        ready: this.ready,
        done: this.done,
        total: this.total,
        assessed: names.length > 0,
        answered: answered.size,
        unsaved,
        saving: this.those("saving"),
        unheard: this.notebook.node.querySelector(".tk-question[data-unheard]") !== null,
      }),
      notes: this.notes(),
    });
    this.calm?.mark();
  }

  notes() {
    const notes = [];
    const { link } = this;
    if (this.trouble) notes.push(this.trouble);
    if (link.unreachable)
      notes.push("This page cannot reach its program any more. Close the page and open the workbook again.");
    else if (link.dead) notes.push("The program that saves has stopped. Press “Start again”.");
    if (this.state?.closed) notes.push(this.state.closed);
    if (this.state?.due) notes.push(this.state.due);
    if (!this.authored) return notes;
    if (this.foreign === 1) notes.push("1 part was added to this workbook. It was left as it is, and not run.");
    if (this.foreign > 1)
      notes.push(`${this.foreign} parts were added to this workbook. They were left as they are, and not run.`);
    if (this.ready && this.broken)
      notes.push(
        this.broken === 1
          ? "1 part of this workbook could not be shown. Tell your instructor."
          : `${this.broken} parts of this workbook could not be shown. Tell your instructor.`,
      );
    return notes;
  }

  firstWords() {
    const first = this.notebook.widgets.find((cell) => cell.model.type === "markdown");
    return first ? source(first) : "";
  }

  /** @param {string} name */
  async go(name) {
    const { notebook } = this;
    const number = notebook.widgets.findIndex((cell) => nameOf(cell) === name);
    if (number < 0) return;
    this.calm?.showCell(notebook.widgets[number]);
    notebook.activeCellIndex = number;
    notebook.mode = "command";
    await notebook.scrollToItem(number, "start");
    /** @type {HTMLElement | null} */
    const question = notebook.widgets[number].node.querySelector(".tk-question");
    question?.scrollIntoView({ block: "start" });
    question?.focus({ preventScroll: true });
  }

  // What is read aloud: the question that had the focus, if it is in view, or else what stands in view and goes on from
  // there, up to the next title or question.
  places() {
    const view = this.notebook.node.getBoundingClientRect();
    /**
     * @param {Element} place
     * @param {number} from
     * @param {number} to
     */
    const seen = (place, from, to) => {
      const { top, bottom } = place.getBoundingClientRect();
      return bottom > top && bottom > from && top < to;
    };
    if (this.focused?.isConnected && seen(this.focused, view.top + 40, view.bottom - 40)) return [this.focused];
    const places = this.notebook.widgets
      .filter((cell) => this.kind(cell) !== "foreign")
      .filter(({ node }) => !node.classList.contains("tk-away"))
      .flatMap(({ node }) => node.querySelector(".tk-question, .jp-MarkdownOutput, .jp-OutputArea") ?? []);
    // What begins in the upper part of the view, or else what fills it.
    const begins = places.findIndex((place) => {
      const { top, height } = place.getBoundingClientRect();
      return height > 0 && top > view.top - 10 && top < view.top + view.height * 0.6;
    });
    const first = begins < 0 ? places.findIndex((place) => seen(place, view.top + 40, view.bottom)) : begins;
    if (first < 0) return [];
    /** @param {Element} place */
    const ends = (place) => place.matches(".tk-question") || place.querySelector("h1, h2, h3");
    const rest = places.slice(first + 1);
    const next = rest.findIndex(ends);
    if (places[first].matches(".tk-question")) return [places[first]];
    return [places[first], ...rest.slice(0, next < 0 ? rest.length : next)];
  }

  close() {
    this.turn += 1;
    this.link.close();
    clearInterval(this.looks);
    document.removeEventListener("visibilitychange", this.comes);
    window.removeEventListener("focus", this.comes);
    this.terms.close();
    this.reader.close();
    this.watch.disconnect();
    this.channel?.close();
  }
}
