// The list of a workbook's steps: a column where there is room for one, else a sheet that a button opens.

import { SIGNS } from "./steps.js";

/** @import { How, Step } from "./steps.js" */

const WIDE = "(min-width: 1000px)";

/**
 * @template {keyof HTMLElementTagNameMap} Tag
 * @param {Tag} tag
 * @param {string} name
 * @param {string} [text]
 */
export function make(tag, name, text = "") {
  const node = document.createElement(tag);
  if (name) node.className = name;
  node.textContent = text;
  return node;
}

/**
 * @param {string} name
 * @param {string} text
 * @param {() => void} pressed
 */
export function button(name, text, pressed) {
  const node = make("button", name, text);
  node.type = "button";
  node.addEventListener("click", pressed);
  return node;
}

/** @param {string} text what is read aloud only */
export const unseen = (text) => make("span", "tk-strip-unseen", text);

export class Contents {
  node = make("nav", "tk-contents");
  list = make("ol", "tk-contents-list");
  /** @type {Map<string, { link: HTMLAnchorElement, sign: HTMLElement, said: HTMLElement }>} by the name of a part */
  links = new Map();
  drawn = "";
  toggle = button("tk-contents-toggle", "Contents", () => this.open(!this.isOpen, true));
  wide = matchMedia(WIDE);

  /**
   * @param {(part: string) => void} go
   * @param {(on: boolean) => void} whole is called to show everything on one page, and to show steps again
   * @param {() => void} fit is called when the room beside the column has changed
   */
  constructor(go, whole, fit) {
    this.go = go;
    this.node.id = "tk-contents";
    this.node.setAttribute("aria-label", "Contents of this workbook");
    this.node.tabIndex = -1;
    const all = button("tk-contents-whole", "All on one page", () => {
      const on = all.getAttribute("aria-pressed") !== "true";
      all.setAttribute("aria-pressed", String(on));
      this.open(false);
      whole(on);
    });
    all.setAttribute("aria-pressed", "false");
    this.toggle.setAttribute("aria-expanded", "false");
    this.toggle.setAttribute("aria-controls", this.node.id);
    this.node.append(make("p", "tk-contents-title", "Contents"), this.list, all);
    this.node.addEventListener("keydown", (event) => {
      if (event.key !== "Escape" || !this.isOpen) return;
      event.stopPropagation();
      this.open(false);
      this.toggle.focus();
    });
    this.changed = () => {
      this.open(false);
      fit();
    };
    this.wide.addEventListener("change", this.changed);
  }

  get isOpen() {
    return this.node.classList.contains("tk-open");
  }

  /**
   * @param {boolean} on
   * @param {boolean} [focus]
   */
  open(on, focus = false) {
    const sheet = on && !this.wide.matches;
    this.node.classList.toggle("tk-open", sheet);
    // The sheet leaves the strip free, whose button closes it too.
    const strip = this.toggle.closest(".tk-strip");
    this.node.style.top = sheet && strip ? `${strip.clientHeight}px` : "";
    this.toggle.setAttribute("aria-expanded", String(sheet));
    if (on && focus) this.focus();
  }

  /** The focus goes to the step that is shown. */
  focus() {
    /** @type {HTMLElement | null} */
    const link = this.list.querySelector("[aria-current]");
    (link ?? this.node).focus();
  }

  /**
   * Draw the list anew where it is another one: one that is drawn again loses the focus in it.
   * @param {Step[]} steps
   */
  show(steps) {
    const now = JSON.stringify(
      steps.map(({ id, parts }) => [id, parts.map((part) => [part.id, part.title, part.level])]),
    );
    if (now === this.drawn) return;
    this.drawn = now;
    this.links = new Map();
    this.list.replaceChildren(
      ...steps.flatMap(({ id, parts }) => parts.map((part) => this.line(part, part.id === id))),
    );
  }

  /**
   * @param {Step["parts"][number]} part
   * @param {boolean} main whether it stands for its step
   */
  line({ id, title, level }, main) {
    const item = make("li", `tk-level-${level}`);
    const link = make("a", "tk-contents-link");
    link.href = `#step=${id}`;
    const sign = make("span", "tk-contents-sign");
    sign.setAttribute("aria-hidden", "true");
    const said = unseen("");
    link.append(sign, make("span", "", title), said);
    link.addEventListener("click", (event) => {
      if (event.ctrlKey || event.metaKey || event.shiftKey) return; // in a tab of its own
      event.preventDefault();
      this.open(false);
      this.go(id);
    });
    item.append(link);
    if (main) this.links.set(id, { link, sign, said });
    return item;
  }

  /**
   * @param {Map<string, How>} far how far each step is
   * @param {string} current
   */
  mark(far, current) {
    for (const [id, { link, sign, said }] of this.links) {
      const how = far.get(id) ?? "open";
      sign.textContent = SIGNS[how][0];
      said.textContent = `, ${SIGNS[how][1]}`;
      link.dataset.how = how;
      if (id === current) link.setAttribute("aria-current", "step");
      else link.removeAttribute("aria-current");
    }
  }

  /**
   * Bring the line of a step into view in the list.
   * @param {string} id
   */
  reveal(id) {
    this.links.get(id)?.link.scrollIntoView({ block: "nearest" });
  }

  close() {
    this.wide.removeEventListener("change", this.changed);
  }
}
