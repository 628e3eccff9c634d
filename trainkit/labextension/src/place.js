// Where somebody is in a workbook. It lies beside the notebook (trainkit/server.py), not in the profile of the computer:
// two who share a laptop have two folders. The server gives it along with the page, so the page begins at the right step.

/** @import { Contents } from "@jupyterlab/services" */
/** @typedef {{ step: string, read: string[], practised: string[] }} Kept */

const LATER = 400; // several changes at once are one file

/**
 * What came along with the page; a page that brought nothing begins at its beginning.
 * @param {string} text
 * @returns {Kept}
 */
export function kept(text) {
  try {
    const { step, read, practised } = JSON.parse(text);
    return {
      step: String(step ?? ""),
      read: [...(read ?? [])].map(String),
      practised: [...(practised ?? [])].map(String),
    };
  } catch {
    return { step: "", read: [], practised: [] };
  }
}

/**
 * The file beside a notebook.
 * @param {string} notebook the notebook's path
 * @param {string} module
 */
export const fileBeside = (notebook, module) => `${notebook.replace(/[^/]*$/, "")}${module}.place.json`;

export class Place {
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  timer;
  before = "";
  /** @type {Kept | undefined} */
  last;
  /** What is on its way to the disk. */
  writing = Promise.resolve();

  /**
   * @param {Pick<Contents.IManager, "save">} contents
   * @param {() => string} path of the file: a notebook can be renamed
   */
  constructor(contents, path) {
    this.contents = contents;
    this.path = path;
  }

  /** @param {Kept} place */
  keep(place) {
    this.last = place;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.written(), LATER);
  }

  /** Writes at once what waits, and returns when it lies on the disk: before the page is left. */
  written() {
    clearTimeout(this.timer);
    if (this.last) this.writing = this.write(this.last, this.writing);
    return this.writing;
  }

  /**
   * @param {Kept} place
   * @param {Promise<void>} before
   */
  async write(place, before) {
    await before;
    const content = `${JSON.stringify({ format: 1, ...place })}\n`;
    if (content === this.before) return;
    this.before = content;
    try {
      await this.contents.save(this.path(), { type: "file", format: "text", content });
    } catch {
      this.before = ""; // a folder that cannot be written to: nothing of worth is lost
    }
  }

  close() {
    clearTimeout(this.timer);
  }
}
