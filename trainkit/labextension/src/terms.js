// Words of the trade in the texts of a workbook: each opens on a press what it means, right there below its paragraph.
// Texts are those that explain or that practise; a question of the assessment stays as it was written.
//
// Only the page is changed, never the notebook. What is drawn again is marked again.

/** @import { Word } from "./shapes.js" */

const TEXTS = [
  ".jp-MarkdownCell.tk-fixed .jp-MarkdownOutput",
  ".jp-CodeCell:not(.tk-foreign) .tk-note",
  '.tk-question:not([data-mode="assess"], [data-mode="finish"]) > .tk-prompt',
  '.tk-question:not([data-mode="assess"], [data-mode="finish"]) > .tk-explained > p',
].join(", ");
// Where no word is marked: titles, code, what can be pressed already, pictures, and the list of the words itself.
const LEFT_OUT =
  "h1, h2, h3, h4, h5, h6, [role=heading], .tk-note-title, code, pre, a, button, label, summary, details, style, svg, .tk-word";
// What is opened goes behind one of these, or into it where nothing can stand behind it.
const BEHIND = "p, ul, ol, pre, blockquote, table";
const INTO = "li, td, th, dd";

let serial = 0;
/** @param {string} text */
const escaped = (text) => text.replace(/[.*+?^${}()|[\]\\]/g, "\\$&").replace(/\s+/g, "\\s+");
/** @param {string} text */
const plain = (text) => text.replace(/\s+/g, " ").toLowerCase();

export class Terms {
  /** @type {Map<string, Word>} spelling, to the term and its text */
  words = new Map();
  /** @type {RegExp | null} */
  pattern = null;
  /** Called when words have been marked. */
  marked = () => {};

  /**
   * @param {HTMLElement} root
   * @param {(text: string) => void} say is called with what was opened, for those who cannot see it come
   */
  constructor(root, say) {
    this.root = root;
    this.say = say;
    this.watch = new MutationObserver((records) => this.changed(records));
  }

  /**
   * What the kernel has told.
   * @param {Word[]} words
   */
  learn(words) {
    this.words = new Map();
    for (const word of words) for (const form of [word.term, ...word.forms]) this.words.set(plain(form), word);
    // The longest first, so that a word within a longer one does not hide it.
    const spellings = [...this.words.keys()].sort((one, other) => other.length - one.length);
    this.pattern = spellings.length
      ? new RegExp(`(?<![\\p{L}\\p{N}_-])(?:${spellings.map(escaped).join("|")})(?![\\p{L}\\p{N}_-])`, "giu")
      : null;
    this.scan(this.root);
    this.watch.observe(this.root, { subtree: true, childList: true });
    this.marked();
  }

  close() {
    this.watch.disconnect();
  }

  /**
   * At once, before anything is painted or read aloud: a text that is said on its coming is not said twice.
   * @param {MutationRecord[]} records
   */
  changed(records) {
    const places = new Set(records.map(({ target }) => target));
    // Controls redraw themselves many times a second; none of their words is marked.
    for (const place of places)
      if (place instanceof Element && place.isConnected && !place.closest(".tk-control, svg, .tk-word"))
        this.scan(place);
    if (this.watch.takeRecords().length) this.marked(); // our own changes
  }

  /** @param {Element} place */
  scan(place) {
    if (!this.pattern) return;
    const round = place.closest(TEXTS);
    const texts = round ? [round] : place.querySelectorAll(TEXTS);
    for (const text of texts) if (!text.querySelector(".tk-term")) this.mark(text);
  }

  /**
   * The first of each term in one text.
   * @param {Element} text
   */
  mark(text) {
    const { pattern } = this;
    if (!pattern) return;
    const seen = new Set();
    const walker = document.createTreeWalker(text, NodeFilter.SHOW_TEXT, (node) =>
      node.parentElement?.closest(LEFT_OUT) ? NodeFilter.FILTER_REJECT : NodeFilter.FILTER_ACCEPT,
    );
    /** @type {Text[]} */
    const nodes = [];
    while (walker.nextNode()) nodes.push(/** @type {Text} */ (walker.currentNode));
    for (const node of nodes) {
      const hits = [...node.data.matchAll(pattern)].filter(({ 0: found }) => {
        const { term } = this.word(found);
        return !seen.has(term) && seen.add(term);
      });
      let rest = node;
      let past = 0;
      for (const { 0: found, index } of hits) {
        const word = rest.splitText(index - past);
        rest = word.splitText(found.length);
        past = index + found.length;
        word.replaceWith(this.button(found));
      }
    }
  }

  /** @param {string} spelling */
  word(spelling) {
    return /** @type {Word} */ (this.words.get(plain(spelling)));
  }

  /** @param {string} found */
  button(found) {
    const { term, text } = this.word(found);
    const button = document.createElement("button");
    button.type = "button";
    button.className = "tk-term";
    button.dataset.term = term;
    button.textContent = found;
    button.setAttribute("aria-expanded", "false");
    button.title = "What is this?";
    /** @type {HTMLElement | null} */
    let note = null;
    const close = () => {
      note?.remove();
      note = null;
      button.setAttribute("aria-expanded", "false");
      button.removeAttribute("aria-controls");
      this.watch.takeRecords();
    };
    button.addEventListener("click", () => {
      // Some browsers give a pressed button no focus; Escape has to reach it.
      button.focus({ preventScroll: true });
      if (note?.isConnected) {
        close();
        return;
      }
      note = this.note(term, text);
      button.setAttribute("aria-expanded", "true");
      button.setAttribute("aria-controls", note.id);
      put(note, button);
      this.watch.takeRecords();
      this.say(`${term}: ${text}`);
    });
    button.addEventListener("keydown", (event) => {
      if (event.key === "Escape" && note?.isConnected) {
        event.stopPropagation();
        close();
      }
    });
    return button;
  }

  /**
   * @param {string} term
   * @param {string} text
   */
  note(term, text) {
    const note = document.createElement("div");
    note.className = "tk-word";
    note.id = `tk-word-${++serial}`;
    note.setAttribute("role", "note");
    const name = document.createElement("strong");
    name.textContent = `${term}:`;
    note.append(name, ` ${text}`);
    return note;
  }
}

/**
 * Behind the paragraph of the word, so that the text itself does not move apart; other notes of it stand before.
 * @param {HTMLElement} note
 * @param {HTMLElement} button
 */
function put(note, button) {
  const into = button.closest(INTO);
  const behind = button.closest(BEHIND);
  if (into && (!behind || behind.contains(into))) {
    into.append(note);
    return;
  }
  let last = behind ?? button.parentElement ?? button;
  while (last.nextElementSibling?.matches(".tk-word")) last = last.nextElementSibling;
  last.after(note);
}
