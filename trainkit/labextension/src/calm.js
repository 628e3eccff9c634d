// The calm page: a workbook alone on the screen, one step at a time. Whether a page is calm is the server's to say
// (trainkit/server.py). Nothing of the notebook is changed: cells of other steps stay in the page and are not shown,
// so that drafts and controls live on.

import { PageConfig } from "@jupyterlab/coreutils";
import { Widget } from "@lumino/widgets";
import { standAlone } from "./alone.js";
import { Contents, button, make } from "./contents.js";
import { Place, fileBeside, kept } from "./place.js";
import { OPENING, isCode, nameOf, source } from "./recognise.js";
import { howFar, inAddress, stepNamed, stepsOf } from "./steps.js";

/** @import { JupyterFrontEnd } from "@jupyterlab/application" */
/** @import { Cell } from "@jupyterlab/cells" */
/** @import { NotebookPanel } from "@jupyterlab/notebook" */
/** @import { Step } from "./steps.js" */
/** @import { Workbook } from "./workbook.js" */

const QUESTIONS = ".tk-question:is([data-mode=practise], [data-mode=complete], [data-mode=assess])";
const ANSWERED = ".tk-question[data-mode]:not([data-mode=assess], [data-mode=finish]) .tk-verdict";

// The step that the address means, before JupyterLab makes the address its own.
const ASKED = inAddress(location.hash);
// Where the strip has room for one line.
const SMALL = "(max-height: 500px), (max-width: 600px)";

/** What the server says of this page. */
export const isCalm = () => PageConfig.getOption("trainkitCalm") === "yes";
export const isOffered = () => PageConfig.getOption("trainkitCalm") === "offered";

/**
 * Before anything of JupyterLab can be seen; taken back where the notebook is no workbook.
 * @param {boolean} on
 */
export const hush = (on) => document.body.toggleAttribute("data-tk-calm", on);

/**
 * A plain link to another page of the same notebook. What JupyterLab would ask on leaving is saved first.
 * @param {NotebookPanel} panel
 * @param {"single-document" | "multiple-document"} mode
 * @param {string} text
 * @param {() => Promise<void>} [first] what else is to be done before the page is left
 */
export function wayTo(panel, mode, text, first = () => Promise.resolve()) {
  const link = make("a", "tk-way", text);
  const target = () => PageConfig.getUrl({ mode, treePath: panel.context.path });
  link.href = target();
  link.addEventListener("click", async (event) => {
    event.preventDefault();
    await Promise.all([panel.context.save().catch(() => undefined), first()]);
    location.assign(target());
  });
  return link;
}

export class Calm {
  /** @type {Step[]} */
  steps = [];
  current = "";
  whole = false;
  /** Whether the end of the step was in view. */
  ended = false;
  title = "";
  asked = true;
  skips = make("div", "tk-skips");
  // Back and Next stand where reading ends.
  pager = make("nav", "tk-pager");
  back = button("tk-pager-back", "", () => this.turn(-1));
  next = button("tk-pager-next", "", () => this.turn(1));
  where = make("span", "tk-pager-where");
  notes = make("div", "tk-calm-notes");
  small = matchMedia(SMALL);

  /**
   * @param {Workbook} workbook
   * @param {JupyterFrontEnd} app
   */
  constructor(workbook, app) {
    this.workbook = workbook;
    const { panel, notebook } = workbook;
    this.panel = panel;
    this.notebook = notebook;
    const before = kept(PageConfig.getOption("trainkitPlace"));
    this.read = new Set(before.read);
    this.practised = new Set(before.practised);
    const module = OPENING.exec(source(workbook.opening))?.[1] ?? "workbook";
    this.place = new Place(app.serviceManager.contents, () => fileBeside(panel.context.path, module));

    panel.addClass("tk-calm");
    // Every cell is in the page, whatever the version does by itself. "contentVisibility" has them there already, and
    // leaves a listener behind when it is left.
    const { notebookConfig } = notebook;
    const windowingMode = ["full", "defer"].includes(notebookConfig.windowingMode)
      ? "none"
      : notebookConfig.windowingMode;
    notebook.notebookConfig = { ...notebookConfig, windowingMode, scrollPastEnd: false };
    const hide = standAlone(panel, app.shell);
    void app.restored.then(hide);
    this.contents = new Contents(
      (part) => this.go(part),
      (on) => this.showWhole(on),
      () => this.fit(),
    );
    this.build();
    this.fit();
    this.arrange();
    const asked = stepNamed(this.steps, ASKED) ?? stepNamed(this.steps, before.step);
    // The first step is shown, not kept: nobody has chosen anything yet.
    this.show(asked ?? this.steps[0], { quiet: true });
    this.skips.focus({ preventScroll: true });
    this.listen();
  }

  listen() {
    const { panel, notebook } = this;
    const onHash = () => {
      const step = stepNamed(this.steps, inAddress(location.hash));
      if (step && step.id !== this.current) this.show(step);
    };
    const onPrint = () => panel.addClass("tk-whole");
    const onPrinted = () => panel.toggleClass("tk-whole", this.whole);
    // JupyterLab gives the page the name of the file, now and then.
    const named = new MutationObserver(() => {
      if (this.title && document.title !== this.title) document.title = this.title;
    });
    named.observe(document.head, { subtree: true, childList: true, characterData: true });
    window.addEventListener("hashchange", onHash);
    const onSize = () => this.putNotes();
    this.small.addEventListener("change", onSize);
    window.addEventListener("beforeprint", onPrint);
    window.addEventListener("afterprint", onPrinted);
    // The browser's own menu: that of the notebook deletes cells.
    panel.node.addEventListener("contextmenu", (event) => event.stopPropagation(), true);
    this.scroller.addEventListener("scroll", () => this.look(), { passive: true });
    this.workbook.terms.marked = () => this.oneStop();
    panel.disposed.connect(() => {
      window.removeEventListener("hashchange", onHash);
      window.removeEventListener("beforeprint", onPrint);
      window.removeEventListener("afterprint", onPrinted);
      named.disconnect();
      this.small.removeEventListener("change", onSize);
      this.contents.close();
      this.place.close();
    });
    // Roles of JupyterLab that do not fit what is left: a feed holds articles only.
    notebook.node.querySelector(".jp-WindowedPanel-viewport")?.removeAttribute("role");
  }

  get scroller() {
    /** @type {HTMLElement | null} */
    const outer = this.notebook.node.querySelector(".jp-WindowedPanel-outer");
    return outer ?? this.notebook.node;
  }

  build() {
    const { panel, contents, workbook } = this;
    this.skips.tabIndex = -1;
    this.skips.setAttribute("role", "navigation");
    this.skips.setAttribute("aria-label", "Skip to");
    this.skips.append(
      button("tk-skip", "Skip to the question", () => this.toQuestion()),
      button("tk-skip", "Skip to the step", () => this.focusStep()),
      button("tk-skip", "Skip to the contents", () => contents.open(true, true)),
    );
    const first = () => this.place.written();
    contents.node.append(wayTo(panel, "multiple-document", "Leave for the full JupyterLab", first));
    panel.node.prepend(this.skips, contents.node);
    workbook.strip.node.querySelector(".tk-strip-row")?.prepend(contents.toggle);
    this.pager.setAttribute("aria-label", "Steps");
    this.pager.append(this.back, this.where, this.next);
    this.scroller.prepend(this.notes);
    const footer = new Widget({ node: make("div", "tk-pager-foot") });
    footer.node.append(this.pager);
    // The notebook would take the focus back to its cell.
    for (const beside of [footer.node, this.notes])
      beside.addEventListener("focusin", (event) => event.stopPropagation());
    // The notebook's own layout; JupyterLab's types know only what it has in common with others.
    const layout = /** @type {{ footer: Widget | null }} */ (/** @type {unknown} */ (this.notebook.layout));
    const before = layout.footer; // "Click to add a cell."
    layout.footer = footer;
    if (before !== footer) before?.hide();
  }

  /** What the strip has to note stands above the step where it would take the step's room, unless something failed. */
  putNotes() {
    const { node, inner, notes, said } = this.workbook.strip;
    const below = this.small.matches && node.dataset.status !== "failed";
    if (below === this.notes.contains(notes)) return;
    if (below) this.notes.append(notes);
    else inner.insertBefore(notes, said);
  }

  fit() {
    this.panel.toggleClass("tk-wide", this.contents.wide.matches);
    this.panel.fit();
  }

  /** Which cells are which step: again whenever the cells are others, or are known to be the workbook's own. */
  arrange() {
    const cells = this.notebook.widgets;
    const at = this.steps.length ? this.step.from : 0;
    this.steps = stepsOf(
      cells.map((cell) => {
        const name = nameOf(cell);
        const question = name === "finish" || !this.asks ? undefined : name;
        return { text: !isCode(cell), source: source(cell), question };
      }),
    );
    for (const cell of cells) this.fold(cell);
    this.contents.show(this.steps);
    if (!this.current) return;
    this.current = (this.steps.find(({ id }) => id === this.current) ?? this.stepOf(at) ?? this.steps[0]).id;
    this.apply();
  }

  /**
   * A worked example shows what came of it; its code is there for whoever wants to read it.
   * @param {Cell} cell
   */
  fold(cell) {
    const folded = isCode(cell) && !cell.hasClass("tk-covered") && source(cell).trim() !== "";
    cell.toggleClass("tk-folded", folded);
    const before = cell.node.querySelector(":scope > .tk-how");
    if (!folded) before?.remove();
    const foreign = cell.hasClass("tk-foreign");
    const summary = foreign ? "A cell that is not part of this workbook" : "How this was computed";
    if (!folded || before?.textContent === summary + source(cell)) return;
    before?.remove();
    const how = make("details", "tk-how");
    how.append(make("summary", "", summary), make("pre", "", source(cell)));
    cell.node.append(how);
  }

  /** Whether questions of an assessment are asked: in a copy for practice one sentence stands in their place. */
  get asks() {
    const { state } = this.workbook;
    return !state || Boolean(state.form);
  }

  /** @param {number} place that of a cell */
  stepOf(place) {
    return this.steps.find(({ from, to }) => from <= place && place < to);
  }

  get index() {
    return Math.max(
      this.steps.findIndex(({ id }) => id === this.current),
      0,
    );
  }

  get step() {
    return this.steps[this.index];
  }

  /** @param {Step} step */
  cellsOf(step) {
    return this.notebook.widgets.slice(step.from, step.to);
  }

  /** How far each step is, as the workbook knows it now. */
  mark() {
    this.putNotes();
    if (this.asked !== this.asks) {
      this.asked = this.asks;
      this.arrange();
      return;
    }
    for (const step of this.steps)
      if (this.cellsOf(step).some(({ node }) => node.querySelector(ANSWERED)) && !this.practised.has(step.id)) {
        this.practised.add(step.id);
        this.keep();
      }
    const far = {
      answered: new Set(this.workbook.state?.answered),
      unsaved: new Set(this.workbook.those("draft", "failed")),
      read: this.read,
      practised: this.practised,
    };
    this.contents.mark(new Map(this.steps.map((step) => [step.id, howFar(step, far)])), this.step.id);
  }

  keep() {
    this.place.keep({ step: this.step.id, read: [...this.read], practised: [...this.practised] });
  }

  /** Whether the end of the step was in view. While outputs are still to come, its end is not known. */
  look() {
    if (!this.workbook.ready || this.whole) return;
    this.ended ||= this.pager.getBoundingClientRect().top < this.scroller.getBoundingClientRect().bottom;
  }

  /** @param {number} by */
  turn(by) {
    const to = this.steps[this.index + by];
    if (to) this.show(to);
  }

  /** @param {string} part */
  go(part) {
    const step = stepNamed(this.steps, part);
    if (!step) return;
    this.show(step);
    const inner = step.parts.find(({ id }) => id === part);
    if (inner && inner.from !== step.from) this.focusPart(this.notebook.widgets[inner.from]);
  }

  /**
   * Show the step of a cell, as when somebody is sent to a question.
   * @param {Cell} cell
   */
  showCell(cell) {
    const step = this.stepOf(this.notebook.widgets.indexOf(cell));
    if (step && step.id !== this.current) this.show(step, { quiet: true });
  }

  /**
   * @param {Step} step
   * @param {{ quiet?: boolean }} [how] quietly: neither kept nor given the focus
   */
  show(step, { quiet = false } = {}) {
    this.look();
    const asked = this.step.parts.some(({ question }) => question);
    if (this.ended && !asked && this.current && step.id !== this.current) this.read.add(this.step.id);
    this.ended = false;
    this.current = step.id;
    this.apply();
    history.replaceState(history.state, "", `${location.pathname}${location.search}#step=${step.id}`);
    this.title = `${step.title} – ${this.steps[0].title}`;
    document.title = this.title;
    this.notebook.mode = "command";
    this.notebook.activeCellIndex = step.from;
    if (this.whole) this.notebook.widgets[step.from].node.scrollIntoView({ block: "start" });
    else this.scroller.scrollTop = 0;
    this.contents.reveal(step.id);
    if (quiet) return;
    this.keep();
    this.focusStep();
  }

  apply() {
    const { index, step, steps } = this;
    this.notebook.widgets.forEach((cell, place) => cell.toggleClass("tk-away", place < step.from || place >= step.to));
    const [before, after] = [steps[index - 1], steps[index + 1]];
    this.back.hidden = !before;
    this.next.hidden = !after;
    this.back.replaceChildren("‹ Back", make("span", "tk-pager-title", before ? `: ${before.title}` : ""));
    this.next.replaceChildren("Next", make("span", "tk-pager-title", after ? `: ${after.title}` : ""), " ›");
    this.where.textContent = `${index + 1} of ${steps.length}`;
    this.mark();
    this.oneStop();
  }

  /** A word of the trade is one stop of the Tab key in a step, however often it stands there. */
  oneStop() {
    const seen = new Set();
    for (const cell of this.cellsOf(this.step)) {
      /** @type {NodeListOf<HTMLElement>} */
      const words = cell.node.querySelectorAll(".tk-term");
      for (const word of words) {
        word.tabIndex = seen.has(word.dataset.term) ? -1 : 0;
        seen.add(word.dataset.term);
      }
    }
  }

  /** @param {boolean} on */
  showWhole(on) {
    this.whole = on;
    this.panel.toggleClass("tk-whole", on);
    this.show(this.step);
  }

  focusStep() {
    this.focusPart(this.notebook.widgets[this.step.from]);
  }

  /** @param {Cell} cell */
  focusPart(cell) {
    /** @type {HTMLElement | null} */
    const title = cell.node.querySelector(".jp-MarkdownOutput :is(h1, h2, h3), .tk-question");
    if (!title) return;
    if (!title.hasAttribute("tabindex")) title.tabIndex = -1;
    title.focus({ preventScroll: !this.whole && cell === this.notebook.widgets[this.step.from] });
  }

  /** The question of this step, else the next one of the workbook. */
  toQuestion() {
    const cells = this.notebook.widgets;
    const found = [...cells.slice(this.step.from), ...cells.slice(0, this.step.from)].find(({ node }) =>
      node.querySelector(QUESTIONS),
    );
    if (!found) return this.focusStep();
    this.showCell(found);
    /** @type {HTMLElement | null} */
    const question = found.node.querySelector(QUESTIONS);
    question?.focus({ preventScroll: true });
    question?.scrollIntoView({ block: "nearest" });
    this.keep();
  }
}
