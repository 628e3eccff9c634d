// Opens a workbook ready for the apprentice: no code, no key to press. Every other notebook is left alone.

import { INotebookTracker } from "@jupyterlab/notebook";
import "../style/strip.css";
import { openingCell } from "./recognise.js";
import { Workbook } from "./workbook.js";

async function attend(panel) {
  await panel.context.ready;
  if (panel.isDisposed || !openingCell(panel.content)) return;
  await new Workbook(panel).prepare();
}

export default {
  id: "trainkit-workbooks:ready",
  description: "Opens a workbook ready for the apprentice",
  autoStart: true,
  requires: [INotebookTracker],
  activate: (_, tracker) => {
    tracker.forEach((panel) => void attend(panel));
    tracker.widgetAdded.connect((__, panel) => void attend(panel));
  },
};
