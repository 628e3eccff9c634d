// What the controls say where the kernel does not answer, and where a question was answered twice.

// The strip has the button. Without it the workbook stands in JupyterLab as it is, which has a menu.
const REMEDY = globalThis.document?.querySelector(".tk-strip")
  ? "If it stays so, press “Start again” at the top."
  : "If it stays so: menu Kernel, “Restart Kernel and Run All Cells…”.";

export const SILENT = `The notebook does not answer. ${REMEDY}`;
export const NOT_SAVED = `The notebook does not answer. Your answer is kept here, and is saved as soon as it does. ${REMEDY}`;
export const NOT_CHECKED = `The notebook does not answer. Your answer is kept here, and is checked as soon as it does. ${REMEDY}`;
export const CHOICES_NOT_SAVED = `The notebook does not answer. Your choices are kept here and are saved as soon as it does. ${REMEDY}`;
export const NOT_HANDED_IN = `NOT HANDED IN. The notebook does not answer. ${REMEDY} Then press again.`;

export const ELSEWHERE =
  "You answered this question in another window. Your answer here is not saved. “Save answer” puts it in the place of the other.";
export const ELSEWHERE_SHOWN = "You answered this question in another window. Here is what is saved.";
