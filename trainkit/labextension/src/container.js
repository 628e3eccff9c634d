// How JupyterLab gets at the extension: it loads this file, says what it lends, and asks for the extension. That is the
// way of "module federation", in the few lines that one small extension needs of it.

import { borrow } from "./lent.js";

/** @import { Offers } from "./lent.js" */

const BORROWED = [
  "@jupyterlab/cells",
  "@jupyterlab/coreutils",
  "@jupyterlab/notebook",
  "@lumino/messaging",
  "@lumino/widgets",
];
/** @type {Offers} */
let offers = {};

const container = {
  /** @param {Offers} offered */
  init(offered) {
    offers = offered;
  },
  /** @param {string} module */
  async get(module) {
    if (module !== "./extension") throw new Error(`There is no ${module} here.`);
    await borrow(offers, BORROWED);
    const { default: plugin } = await import("./index.js");
    return () => ({ __esModule: true, default: plugin });
  },
};

const page = /** @type {{ _JUPYTERLAB?: Record<string, typeof container> }} */ (/** @type {unknown} */ (window));
(page._JUPYTERLAB ??= {})["trainkit-workbooks"] = container;
