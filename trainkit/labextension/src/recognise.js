// Which notebook is a workbook, and which of its cells run by themselves.
//
// A workbook is known by its opening cell, in exactly this form. A file can be renamed and metadata can be lost or
// written by anybody; the cell that opens the module is what makes a notebook a workbook, and stands in every copy.
// Each form is matched as a whole: names and identifiers have no room for other code.

/** @import { Cell, CodeCell } from "@jupyterlab/cells" */
/** @import { Notebook } from "@jupyterlab/notebook" */

export const OPENING =
  /^(?:from trainkit(?:\.[a-z]+)* import [a-z]+(?:, [a-z]+)*\n+)+book = workbook\.open\("([a-z][a-z0-9-]*)"\)$/;

export const FORMS = [
  /^book\.(?:cautions|objectives|summary|words|card|warm_up|finish)\(\)$/,
  /^book\.(?:practice|complete|instrument|plot)\("[a-z][a-z0-9-]*"\)$/,
  /^book\.ask\("[A-Z][0-9]{1,2}"\)$/,
];

/** @param {Cell} cell */
export const source = (cell) => cell.model.sharedModel.getSource();
/**
 * @param {Cell} cell
 * @returns {cell is CodeCell}
 */
export const isCode = (cell) => cell.model.type === "code";
/** @param {Cell} cell */
export const isForm = (cell) => isCode(cell) && FORMS.some((form) => form.test(source(cell)));
/** @param {Cell} cell */
export const isOpening = (cell) => isCode(cell) && OPENING.test(source(cell));

/**
 * The first cell that opens a workbook, or undefined where the notebook is none.
 * @param {Notebook} notebook
 */
export const openingCell = (notebook) => notebook.widgets.filter(isCode).find(isOpening);

/**
 * The name of the question that a cell asks, "A1", or "finish", or undefined.
 * @param {Cell} cell
 */
export const nameOf = (cell) =>
  source(cell) === "book.finish()" ? "finish" : /^book\.ask\("([A-Z][0-9]{1,2})"\)$/.exec(source(cell))?.[1];

/**
 * Hidden by whoever wrote the workbook.
 * @param {Cell} cell
 */
export const isHidden = ({ model }) => model.getMetadata("jupyter")?.source_hidden === true;
/** @param {Cell} cell */
export const isLocked = ({ model }) => model.getMetadata("editable") === false;
