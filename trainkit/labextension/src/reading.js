// Reads a text or a question aloud, with a voice of this very computer.
//
// Nothing leaves the machine: some browsers also list voices that send the words to somebody's server
// (`localService` is false); those are never taken. Where there is no other, there is no reading aloud.

import { sentences } from "./spoken.js";

const synthesis = () => (typeof SpeechSynthesisUtterance === "undefined" ? undefined : window.speechSynthesis);

/** The voice that suits English words best, or undefined. */
export function voice() {
  const own = (synthesis()?.getVoices() ?? []).filter(({ localService }) => localService);
  /** @param {string} tag */
  const speaks = (tag) => own.find(({ lang }) => lang.replace("_", "-").toLowerCase().startsWith(tag));
  return speaks("en-gb") ?? speaks("en") ?? own[0];
}

export class Reader {
  turn = 0;
  /** @type {Element | null} the place that is read */
  now = null;

  /** @param {() => void} changed is called when a voice comes or goes, and when reading begins or ends */
  constructor(changed) {
    this.changed = changed;
    this.stop = this.stop.bind(this);
    this.hidden = () => {
      if (document.visibilityState === "hidden") this.stop();
    };
    synthesis()?.addEventListener?.("voiceschanged", changed);
    // Some browsers go on talking after their page is gone.
    window.addEventListener("pagehide", this.stop);
    document.addEventListener("visibilitychange", this.hidden);
  }

  get can() {
    return voice() !== undefined;
  }

  get reads() {
    return this.now !== null;
  }

  /**
   * Read what these places say, one after the other; each is marked while it is read.
   * @param {Element[]} places
   */
  async read(places) {
    this.stop();
    const turn = ++this.turn;
    for (const place of places) {
      const pieces = words(place).flatMap(sentences);
      if (!pieces.length) continue;
      this.mark(place);
      for (const piece of pieces) {
        await said(piece);
        if (turn !== this.turn) return;
      }
    }
    this.mark(null);
  }

  stop() {
    this.turn += 1;
    if (!this.reads) return;
    synthesis()?.cancel();
    this.mark(null);
  }

  /** @param {Element | null} place */
  mark(place) {
    this.now?.classList.remove("tk-read");
    this.now = place;
    if (place) {
      place.classList.add("tk-read");
      const { top, bottom } = place.getBoundingClientRect();
      if (top > window.innerHeight - 60 || bottom < 60) place.scrollIntoView({ block: "start" });
    }
    this.changed();
  }

  close() {
    this.stop();
    synthesis()?.removeEventListener?.("voiceschanged", this.changed);
    window.removeEventListener("pagehide", this.stop);
    document.removeEventListener("visibilitychange", this.hidden);
  }
}

/** @type {SpeechSynthesisUtterance | undefined} one that nobody holds is lost before its end in some browsers */
let kept;

/**
 * @param {string} text
 * @returns {Promise<void>}
 */
function said(text) {
  return new Promise((done) => {
    const utterance = new SpeechSynthesisUtterance(text);
    utterance.voice = voice() ?? null;
    utterance.lang = utterance.voice?.lang ?? "en";
    utterance.rate = 0.9; // for somebody who reads along
    utterance.onend = utterance.onerror = () => done();
    kept = utterance;
    synthesis()?.speak(kept);
  });
}

const BLOCKS =
  "h1, h2, h3, h4, h5, h6, p, li:not(.tk-row), tr, dt, dd, pre, .tk-title, .tk-option > span, .tk-text, .tk-verdict, .tk-word";
// Buttons, hints and states are no text; the heads of columns are said again in each row.
const NOT_READ =
  ".tk-unseen, .tk-hint, .tk-foot, .tk-alarm, .tk-readout, .tk-count, [aria-hidden=true], .jp-InternalAnchorLink, button:not(.tk-term, .tk-card), thead, svg, style";

/**
 * What a place says, block by block.
 * @param {Element} place
 */
export function words(place) {
  const blocks = [...place.querySelectorAll(BLOCKS)].filter(
    (block) =>
      block.checkVisibility() && !block.closest(NOT_READ) && !block.parentElement?.closest("tr, li:not(.tk-row), p"),
  );
  return blocks.map((block) => {
    const copy = /** @type {Element} */ (block.cloneNode(true));
    for (const each of copy.querySelectorAll(NOT_READ)) each.remove();
    const parts = copy.matches("tr") ? [...copy.children] : [copy];
    // A stop at the end of each block and line, so that two do not run into one.
    return parts
      .map((part) =>
        String(part.textContent)
          .trim()
          .replace(/(?<![.?!:;,\s])\s*\n+/g, copy.matches("pre") ? ". " : " "),
      )
      .filter(Boolean)
      .join(": ")
      .replace(/(?<![.?!:;])$/, ".");
  });
}
