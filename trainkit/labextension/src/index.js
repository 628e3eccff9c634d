// Opens a workbook ready for the apprentice: no code, no key to press. Every other notebook is left alone.

import { INotebookTracker } from "@jupyterlab/notebook";
import calmCss from "../style/calm.css";
import css from "../style/strip.css";
import { Calm, hush, isCalm, isOffered, wayTo } from "./calm.js";
import { openingCell } from "./recognise.js";
import { Workbook } from "./workbook.js";

/** @import { JupyterFrontEnd } from "@jupyterlab/application" */
/** @import { NotebookPanel } from "@jupyterlab/notebook" */

const style = document.createElement("style");
style.textContent = css + calmCss;
document.head.append(style);

/**
 * @param {JupyterFrontEnd} app
 * @param {NotebookPanel} panel
 */
async function attend(app, panel) {
  await panel.context.ready;
  const opening = panel.isDisposed ? undefined : openingCell(panel.content);
  if (!opening) {
    hush(false);
    return;
  }
  const workbook = new Workbook(panel, opening);
  if (isCalm()) workbook.calm = new Calm(workbook, app);
  else if (isOffered()) workbook.strip.offer(wayTo(panel, "single-document", "Show the workbook alone"));
  await workbook.prepare();
}

export default {
  id: "trainkit-workbooks:ready",
  description: "Opens a workbook ready for the apprentice",
  autoStart: true,
  requires: [INotebookTracker],
  /**
   * @param {JupyterFrontEnd} app
   * @param {INotebookTracker} tracker
   */
  activate(app, tracker) {
    hush(isCalm());
    tracker.forEach((panel) => void attend(app, panel));
    tracker.widgetAdded.connect((_, panel) => void attend(app, panel));
  },
};
