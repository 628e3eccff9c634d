// Answers that are not on the disk yet. While a page lives it holds them itself, whatever becomes of the kernel; between
// pages they lie in the opened folder (trainkit/journal/drafts.py). Nothing is left in the profile of the browser.

/** @import { Draft } from "./shapes.js" */

const MEMORY = Symbol.for("trainkit.drafts");
const LATER = 400; // somebody types, or drags

/**
 * One for all controls of a page.
 * @returns {Record<string, any>}
 */
function memory() {
  const known = /** @type {Record<symbol, Record<string, unknown> | undefined>} */ (
    /** @type {unknown} */ (globalThis)
  );
  return (known[MEMORY] ??= {});
}

/** What the page holds, by a name that tells neither question nor person. */
export const held = {
  /** @param {string} key */
  read: (key) => memory()[key] ?? null,
  /**
   * @param {string} key
   * @param {unknown} draft
   */
  write(key, draft) {
    memory()[key] = draft;
  },
  /** @param {string} key */
  drop(key) {
    delete memory()[key];
  },
};

/** The draft of one question. */
export class Drafts {
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  timer;
  /** @type {Draft | null} what the folder is about to be told */
  next = null;

  /**
   * @param {import("./post.js").Post} post
   * @param {string} key where there is none, as in practice, nothing is kept
   * @param {Draft | null} [kept] what lay in the folder when the question was opened
   */
  constructor(post, key, kept) {
    this.post = post;
    this.key = key;
    this.kept = kept ?? null;
  }

  /** @returns {Draft | null} */
  read() {
    return this.key ? (held.read(this.key) ?? this.kept) : null;
  }

  /** @param {Draft} draft */
  write(draft) {
    if (!this.key) return;
    held.write(this.key, draft);
    this.kept = this.next = draft;
    this.timer ??= setTimeout(() => this.flush(), LATER);
  }

  // An answer that has been recorded takes its draft out of the folder by itself.
  forget() {
    clearTimeout(this.timer);
    this.timer = undefined;
    this.kept = this.next = null;
    held.drop(this.key);
  }

  drop() {
    const lies = this.key && this.read() !== null;
    this.forget();
    if (lies) this.post.tell({ type: "draft", response: null });
  }

  flush() {
    clearTimeout(this.timer);
    this.timer = undefined;
    if (this.next) this.post.tell({ type: "draft", response: this.next.response, base: this.next.base });
    this.next = null;
  }
}
