// Plain keys beside the questions. What is typed in a control is kept there by the control itself
// (trainkit/widgets/browser/guard.js); this keeps single keys anywhere else in a workbook from reaching the notebook's
// commands, where b inserts a cell and 0 0 restarts the kernel. Keys that only move about still do, and so do keys
// with Ctrl, Cmd or Alt. In a cell that somebody added, keys are left alone. On the calm page there is no notebook to
// command, so no key of JupyterLab's does anything there.

/** @import { NotebookPanel } from "@jupyterlab/notebook" */

const SUPPRESS = "data-lm-suppress-shortcuts"; // JupyterLab's own attribute for this
const MOVES = new Set(["ArrowUp", "ArrowDown", "PageUp", "PageDown", "Home", "End", "Tab", "Escape"]);

/** @param {NotebookPanel} panel */
export function keepKeys(panel) {
  /** @param {KeyboardEvent} event */
  const onKey = (event) => {
    const { target } = event;
    if (!(target instanceof Element)) return;
    if (panel.hasClass("tk-calm") && panel.node.contains(target)) {
      target.setAttribute(SUPPRESS, "true");
      // Beside a cell the notebook would take the focus back to one, on every key: Tab would never come past.
      if (target.closest(".tk-pager-foot, .tk-calm-notes")) event.stopPropagation();
      // What an apprentice presses to be sure: the browser would offer to save the page as a file.
      if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "s") event.preventDefault();
      return;
    }
    if (!panel.content.node.contains(target)) return;
    if (target.closest(".jp-OutputArea-output, .tk-foreign")) return;
    const moves = MOVES.has(event.key) && !event.shiftKey && !(event.key === "Escape" && target.matches(".tk-term"));
    const passes = event.ctrlKey || event.metaKey || event.altKey || moves;
    if (passes) target.removeAttribute(SUPPRESS);
    else target.setAttribute(SUPPRESS, "true");
  };
  // A double click would turn a text of the workbook into its source, as if it were to be edited.
  /** @param {MouseEvent} event */
  const onDoubleClick = (event) => {
    if (event.target instanceof Element && event.target.closest(".tk-fixed")) event.stopPropagation();
  };
  panel.node.addEventListener("dblclick", onDoubleClick, true);
  // The window in the capture phase comes before every listener of JupyterLab.
  window.addEventListener("keydown", onKey, true);
  panel.disposed.connect(() => window.removeEventListener("keydown", onKey, true));
}
