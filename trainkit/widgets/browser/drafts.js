// Answers that are not on the disk yet, kept for this tab until they are. They are stored under a name that tells
// neither question nor person, and are gone when the tab is closed.

const MEMORY = Symbol.for("trainkit.drafts");

/**
 * Where storage is switched off, memory has to do: one for all controls of a page.
 * @returns {Record<string, any>}
 */
function memory() {
  const known = /** @type {Record<symbol, Record<string, unknown> | undefined>} */ (
    /** @type {unknown} */ (globalThis)
  );
  return (known[MEMORY] ??= {});
}

export const drafts = {
  /** @param {string} key */
  read(key) {
    if (!key) return null;
    try {
      return JSON.parse(sessionStorage.getItem(`trainkit:${key}`) ?? "null") ?? memory()[key] ?? null;
    } catch {
      return memory()[key] ?? null;
    }
  },
  /**
   * @param {string} key
   * @param {unknown} draft
   */
  write(key, draft) {
    if (!key) return;
    memory()[key] = draft;
    try {
      sessionStorage.setItem(`trainkit:${key}`, JSON.stringify(draft));
    } catch {
      /* kept in memory */
    }
  },
  /** @param {string} key */
  drop(key) {
    if (!key) return;
    delete memory()[key];
    try {
      sessionStorage.removeItem(`trainkit:${key}`);
    } catch {
      /* nothing was stored */
    }
  },
};
