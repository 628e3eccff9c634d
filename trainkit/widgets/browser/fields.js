// Words of one's own, and a table whose rows each go into one of several columns.

import { announcer, freshId, make, settleOnEnter } from "./page.js";

/** @import { Control, Hooks, Question } from "./shapes.js" */
/** @typedef {{ kind: "grid", rows: Record<string, string> }} GridResponse */
/** @typedef {{ kind: "text", text: string }} TextResponse */

/**
 * @param {Question<"text">} shown
 * @param {Hooks} hooks
 * @returns {Control<TextResponse>}
 */
export function textControl(shown, hooks) {
  const { limit } = shown.control;
  const left = make("p", { class: "tk-hint", id: freshId("left") });
  const said = announcer();
  const area = make("textarea", {
    class: "tk-text-area",
    rows: "6",
    maxlength: String(limit),
    "aria-label": "Your answer",
    "aria-describedby": left.id,
  });
  let told = Infinity;
  const rest = () => limit - area.value.length;
  const stage = () => [0, 20, 50].find((mark) => rest() <= mark) ?? Infinity;
  const tell = () => {
    left.textContent = `A person reads this. ${rest()} of ${limit} characters are left.`;
  };
  area.addEventListener("input", () => {
    tell();
    // Said aloud only where it matters: as the end comes near, and at the end.
    if (stage() < told) said.say(stage() ? `${rest()} characters are left.` : "The text is full.");
    told = stage();
    hooks.changed();
  });
  tell();
  return {
    node: make("div", { class: "tk-text-field" }, area, left, said.node),
    value: () => (area.value.trim() ? { kind: "text", text: area.value.slice(0, limit) } : null),
    set(response) {
      area.value = response ? response.text : "";
      told = stage();
      tell();
    },
    focus: () => area.focus(),
    missing: "Write a sentence first.",
  };
}

// One group of radio buttons a row: Tab goes from row to row, the arrows choose in a row. The roles are written out,
// because a table that is laid out as a list on a narrow screen would lose them.
/**
 * @param {Question<"grid">} shown
 * @param {Hooks} hooks
 * @returns {Control<GridResponse>}
 */
export function gridControl(shown, hooks) {
  const { rows, columns } = shown.control;
  /** @type {Map<string, HTMLInputElement[]>} */
  const inputs = new Map();
  const heads = columns.map((column) =>
    make("th", { scope: "col", role: "columnheader", id: freshId("column") }, column.text),
  );
  const lines = rows.map((row) => {
    const group = freshId("grid");
    const head = make("th", { scope: "row", role: "rowheader", id: freshId("row") }, row.text);
    const radios = columns.map((column, place) =>
      make("input", {
        type: "radio",
        name: group,
        value: column.id,
        "aria-labelledby": `${head.id} ${heads[place].id}`,
        onchange: () => changed(),
      }),
    );
    inputs.set(row.id, radios);
    return make(
      "tr",
      { class: "tk-grid-row", role: "row" },
      head,
      // The whole cell is the target; its words show where the column heads do not.
      ...columns.map((column, place) =>
        make(
          "td",
          { role: "cell" },
          make("label", { class: "tk-option tk-grid-cell" }, radios[place], make("span", {}, column.text)),
        ),
      ),
    );
  });
  const chosen = () =>
    Object.fromEntries(
      [...inputs].flatMap(([row, radios]) => {
        const taken = radios.find((radio) => radio.checked);
        return taken ? [[row, taken.value]] : [];
      }),
    );
  const count = make("p", { class: "tk-hint tk-grid-count", role: "status", "aria-live": "polite" });
  const tell = () => {
    const words = `Chosen in ${Object.keys(chosen()).length} of ${rows.length} rows.`;
    if (count.textContent !== words) count.textContent = words;
  };
  const changed = () => {
    tell();
    hooks.changed();
  };
  tell();
  const table = make(
    "table",
    { class: "tk-grid-table", role: "table", "aria-label": "Choose one in each row" },
    make("thead", { role: "rowgroup" }, make("tr", { role: "row" }, make("td", { role: "cell" }), ...heads)),
    make("tbody", { role: "rowgroup" }, ...lines),
  );
  const node = make("div", { class: "tk-grid" }, table, count);
  node.addEventListener("keydown", settleOnEnter(hooks));
  return {
    node,
    value: () => (Object.keys(chosen()).length ? { kind: "grid", rows: chosen() } : null),
    set(response) {
      for (const [row, radios] of inputs) {
        for (const radio of radios) radio.checked = response?.rows[row] === radio.value;
      }
      tell();
    },
    focus: () => {
      const first = inputs.get(rows[0].id) ?? [];
      (first.find((radio) => radio.checked) ?? first[0]).focus();
    },
    missing: "Choose in at least one row first.",
  };
}
