// What the controls say where the kernel does not answer.

const REMEDY = "If it stays so: menu Kernel, “Restart Kernel and Run All Cells…”.";

export const SILENT = `The notebook does not answer. ${REMEDY}`;
export const NOT_SAVED = `The notebook does not answer. Your answer is kept here, and is saved as soon as it does. ${REMEDY}`;
export const NOT_CHECKED = `The notebook does not answer. Your answer is kept here, and is checked as soon as it does. ${REMEDY}`;
export const CHOICES_NOT_SAVED = `The notebook does not answer. Your choices are kept here and are saved as soon as it does. ${REMEDY}`;
export const NOT_HANDED_IN =
  "NOT HANDED IN. The notebook does not answer. Menu Kernel, “Restart Kernel and Run All Cells…”, then press again.";
