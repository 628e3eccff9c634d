// One guard for the whole document. Plain keys typed in an output belong to the control there, and must never reach
// the notebook's own shortcuts, where x cuts the cell and 0 0 restarts the kernel. Keys with Ctrl, Cmd or Alt pass, so
// that saving and running the cell (Ctrl+Enter) work from anywhere.
const GUARD = Symbol.for("trainkit.guard");
const SUPPRESS = "data-lm-suppress-shortcuts"; // JupyterLab's own attribute for this

export function installGuard() {
  const known = /** @type {Record<symbol, unknown>} */ (/** @type {unknown} */ (window));
  if (known[GUARD]) return;
  known[GUARD] = true;
  /** @param {KeyboardEvent} event */
  const onKey = (event) => {
    const { target } = event;
    if (!(target instanceof Element) || !target.closest(".jp-OutputArea-output")) return;
    // On the focused element itself: some of the notebook's bindings are for the very element that has the focus.
    if (event.ctrlKey || event.metaKey || event.altKey) target.removeAttribute(SUPPRESS);
    else target.setAttribute(SUPPRESS, "true");
  };
  // The window in the capture phase comes before every listener of JupyterLab and of Notebook.
  window.addEventListener("keydown", onKey, true);
  // JupyterLab also takes every line break back that is typed in a cell; in a text of one's own it is one.
  /** @param {InputEvent} event */
  const onBreak = (event) => {
    const own = event.target instanceof Element && event.target.closest(".tk-question textarea");
    if (own && event.inputType === "insertLineBreak") event.stopImmediatePropagation();
  };
  window.addEventListener("beforeinput", onBreak, true);
}
