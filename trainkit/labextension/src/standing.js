// How a workbook stands, in the few words of its strip: ready or not, connected or not, saved or not.

/** @import { Standing } from "./shapes.js" */

/**
 * @typedef {object} Now
 * @property {boolean} away the kernel is lost, or the way to it is
 * @property {boolean} dead nobody starts it again by itself
 * @property {boolean} slow it has been away for longer than a connection takes to come back
 * @property {boolean} stuck the workbook could not be opened
 * @property {boolean} ready
 * @property {number} done cells that were run, of `total`
 * @property {number} total
 * @property {boolean} assessed
 * @property {number} answered questions whose answers are on the disk, as the kernel has said
 * @property {string[]} unsaved questions whose answers are not
 * @property {string[]} saving
 * @property {boolean} unheard a question got no answer from the kernel
 */

/** @param {number} answered */
const safe = (answered) => (answered === 0 ? "" : answered === 1 ? "1 answer is safe" : `${answered} answers are safe`);

/**
 * @param {Now} now
 * @returns {Standing}
 */
export function standing(now) {
  const { unsaved, saving } = now;
  if (now.away) {
    const open = [...unsaved, ...saving];
    const word = now.dead ? "Stopped" : "Reconnecting";
    const detail = [safe(now.answered), open.length ? `not saved yet: ${open.join(", ")}` : ""]
      .filter(Boolean)
      .join("; ");
    return {
      // What is on the disk stays there whatever becomes of the kernel: only what is not on it is worth an alarm.
      status: now.dead || open.length ? "failed" : "waiting",
      word: detail ? `${word};` : word,
      detail,
      aloud: `${word}.${detail ? ` ${detail}.` : ""}`,
      again: now.dead || now.slow,
    };
  }
  if (now.stuck) return { status: "failed", word: "NOT READY", detail: safe(now.answered), again: true };
  if (!now.ready) {
    const detail = now.total ? `${now.done} of ${now.total}` : "";
    return { status: "waiting", word: "Getting ready…", detail, aloud: "Getting ready." };
  }
  if (unsaved.length) return { status: "failed", word: "NOT SAVED", detail: unsaved.join(", "), again: now.unheard };
  // Said aloud only if it comes to nothing.
  if (saving.length) return { status: "saving", word: "Saving…", detail: saving.join(", "), silent: true };
  if (!now.assessed) return { status: "practice", word: "Practice", detail: "nothing is recorded", again: now.unheard };
  return now.answered
    ? { status: "saved", word: "SAVED", detail: "" }
    : { status: "none", word: "Nothing answered yet", detail: "" };
}
