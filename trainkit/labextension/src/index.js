// Opens a workbook ready for the apprentice: no code, no key to press. Every other notebook is left alone.

import { INotebookTracker } from "@jupyterlab/notebook";
import css from "../style/strip.css";
import { openingCell } from "./recognise.js";
import { Workbook } from "./workbook.js";

/** @import { NotebookPanel } from "@jupyterlab/notebook" */

const style = document.createElement("style");
style.textContent = css;
document.head.append(style);

/** @param {NotebookPanel} panel */
async function attend(panel) {
  await panel.context.ready;
  const opening = panel.isDisposed ? undefined : openingCell(panel.content);
  if (opening) await new Workbook(panel, opening).prepare();
}

export default {
  id: "trainkit-workbooks:ready",
  description: "Opens a workbook ready for the apprentice",
  autoStart: true,
  requires: [INotebookTracker],
  /**
   * @param {unknown} _
   * @param {INotebookTracker} tracker
   */
  activate(_, tracker) {
    tracker.forEach((panel) => void attend(panel));
    tracker.widgetAdded.connect((__, panel) => void attend(panel));
  },
};
