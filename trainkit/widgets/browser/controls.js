// The control of each kind of answer. A new kind fails type checking until it has one.

import { benchControl } from "./bench.js";
import { choiceControl, severalControl } from "./choice.js";
import { dialControl } from "./dial.js";
import { gridControl, textControl } from "./fields.js";
import { insertControl } from "./insert.js";
import { numberControl } from "./number.js";
import { orderControl } from "./order.js";
import { pointControl } from "./point.js";

/** @import { Control, Hooks, Named, Scale } from "./shapes.js" */

/**
 * What a control needs besides what every question has.
 * @typedef {object} Needs
 * @property {{ units: string[], to_nearest: string }} number
 * @property {{ options: Named[] }} choice
 * @property {{ options: Named[] }} several
 * @property {{ cards: Named[] }} order
 * @property {{ written: Named[], missing: Named }} insert
 * @property {{ rows: Named[], columns: Named[] }} grid
 * @property {{ targets: Named[], figure: string }} point
 * @property {{ scale: Scale, figure: string }} set
 * @property {{ limit: number }} text
 * @property {{ actions: Named[] }} actions
 */
/**
 * What it gives.
 * @typedef {object} Responses
 * @property {import("./typed.js").NumberResponse} number
 * @property {import("./choice.js").ChoiceResponse} choice
 * @property {import("./choice.js").SeveralResponse} several
 * @property {import("./order.js").OrderResponse} order
 * @property {import("./insert.js").InsertResponse} insert
 * @property {import("./fields.js").GridResponse} grid
 * @property {import("./point.js").PointResponse} point
 * @property {import("./dial.js").SetResponse} set
 * @property {import("./fields.js").TextResponse} text
 * @property {import("./bench.js").ActionsResponse} actions
 */
/** @typedef {keyof Responses & keyof Needs} Kind */

/** @type {Record<Kind, (shown: any, hooks: Hooks) => Control<any>>} */
export const CONTROLS = {
  number: numberControl,
  choice: choiceControl,
  several: severalControl,
  order: orderControl,
  insert: insertControl,
  grid: gridControl,
  point: pointControl,
  set: dialControl,
  text: textControl,
  actions: benchControl,
};
