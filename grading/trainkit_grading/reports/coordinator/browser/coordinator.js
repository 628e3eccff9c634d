// The coordinator's table: whom it shows, in which order, and what stands behind a cell. It writes text only, never
// markup, and asks nothing of any server.

import { element as make, part } from "../../../../../trainkit/widgets/browser/page.js";
import { name, open } from "./evidence.js";
import {
  COHORT,
  CRITERIA,
  GONE,
  ID,
  NAME,
  foundWords,
  inOrder,
  keyedTo,
  matches,
  readiness,
  readyCount,
} from "./people.js";

/** @import { Column, Data, Person } from "./people.js" */

/**
 * What the page's own markup holds.
 * @template {HTMLElement} [Kind=HTMLElement]
 * @param {string} id
 */
const byId = (id) => /** @type {Kind} */ (document.getElementById(id));
/** @param {string} id */
const field = (id) => /** @type {HTMLSelectElement | HTMLInputElement} */ (byId(id));
/** @param {string} id */
const button = (id) => /** @type {HTMLButtonElement} */ (byId(id));

/** @type {Data} */
const DATA = JSON.parse(byId("data").textContent ?? "");
const ROWS = 100; // on one page of the table
/** @type {{ rows: Person[], page: number, by: Column, up: boolean, cell: [line: number, place: number] }} */
const seen = { rows: [], page: 0, by: NAME, up: true, cell: [0, 0] };
const WITH_COHORTS = DATA.people.some((person) => DATA.cohorts[person[COHORT]]);
const TABLE = /** @type {HTMLTableElement} */ (byId("matrix"));

function choose() {
  const choice = {
    who: field("who").value,
    cohort: field("cohort").value,
    criterion: field("criterion").value,
    stands: field("stands").value,
    here: field("gone").value === "here",
  };
  seen.rows = DATA.people.filter((person) => matches(person, choice));
  order();
  seen.page = 0;
  seen.cell = [0, 0];
  draw();
}

function order() {
  seen.rows = inOrder(seen.rows, seen.by, seen.up);
}

/** @param {Column} column */
function sortBy(column) {
  seen.up = seen.by === column ? !seen.up : true;
  seen.by = column;
  order();
  seen.page = 0;
  draw();
  part(TABLE, `thead [data-by="${column}"]`).focus();
  byId("found").textContent = `${found()} Sorted anew.`;
}

const found = () => foundWords(seen.rows.length, DATA.people.length);

function draw(all = false) {
  /**
   * @param {Column} column
   * @param {string} text
   * @param {string} [title]
   */
  const head = (column, text, title) =>
    make(
      "th",
      { scope: "col", "aria-sort": seen.by === column ? (seen.up ? "ascending" : "descending") : "none" },
      make(
        "button",
        { type: "button", "data-by": column, title: title ?? false, onclick: () => sortBy(column) },
        `${text}${seen.by === column ? (seen.up ? " ▲" : " ▼") : ""}`,
      ),
    );
  part(TABLE, "thead").replaceChildren(
    make(
      "tr",
      {},
      head(NAME, "Person"),
      WITH_COHORTS ? head(COHORT, "Cohort") : "",
      head("ready", "Ready for"),
      ...DATA.criteria.map(([number, text], place) => head(CRITERIA + place, number, text)),
    ),
  );
  const pages = Math.max(1, Math.ceil(seen.rows.length / ROWS));
  seen.page = Math.min(seen.page, pages - 1);
  const begin = all ? 0 : seen.page * ROWS;
  const some = seen.rows.slice(begin, all ? undefined : begin + ROWS);
  TABLE.tBodies[0].replaceChildren(...some.map(row));
  byId("found").textContent = found();
  byId("page").textContent = `page ${seen.page + 1} of ${pages}`;
  button("back").disabled = seen.page === 0;
  button("on").disabled = seen.page === pages - 1;
  part(document, ".paging").hidden = pages === 1;
  reachable();
}

/**
 * @param {Person} person
 * @param {number} line
 */
function row(person, line) {
  const cells = DATA.criteria.map((criterion, place) => {
    const [word, sign] = DATA.readiness[readiness(person, place)];
    return make(
      "td",
      {},
      make(
        "button",
        {
          type: "button",
          tabindex: "-1",
          class: `state ${word.replace(" ", "-")}`,
          "data-cell": `${line} ${place}`,
          "aria-label": `${person[NAME]}, criterion ${criterion[0]}: ${word}`,
          onclick: (/** @type {MouseEvent} */ event) =>
            open(byId("evidence"), DATA, person, place, /** @type {HTMLElement} */ (event.currentTarget)),
        },
        `${sign} ${word}`,
      ),
    );
  });
  return make(
    "tr",
    {},
    make(
      "th",
      { scope: "row" },
      name(person[NAME]),
      make("small", {}, name(person[ID]), person[GONE] ? ", has left" : ""),
    ),
    WITH_COHORTS ? make("td", {}, DATA.cohorts[person[COHORT]]) : "",
    make("td", { class: "n" }, `${readyCount(person)} of ${DATA.criteria.length}`),
    ...cells,
  );
}

// One stop for the Tab key; arrows go from cell to cell.
function reachable() {
  /** @type {NodeListOf<HTMLElement>} */
  const cells = TABLE.tBodies[0].querySelectorAll("[data-cell]");
  for (const cell of cells) cell.tabIndex = -1;
  const [line, place] = seen.cell;
  const reached = cellAt(line, place) ?? cells[0];
  if (reached) reached.tabIndex = 0;
}

/**
 * @param {number} line
 * @param {number} place
 * @returns {HTMLElement | null}
 */
const cellAt = (line, place) => TABLE.querySelector(`[data-cell="${line} ${place}"]`);

/** @param {KeyboardEvent} event */
function moved(event) {
  const cell = event.target instanceof HTMLElement ? event.target.dataset.cell : undefined;
  if (!cell || event.ctrlKey || event.metaKey || event.altKey) return;
  const [line, place] = cell.split(" ").map(Number);
  const goal = keyedTo(event.key, line, place, DATA.criteria.length - 1);
  if (!goal) return;
  event.preventDefault();
  const next = cellAt(...goal);
  if (!next) return;
  seen.cell = goal;
  reachable();
  next.focus();
}

function begin() {
  /**
   * @param {string} select
   * @param {string | number} value
   * @param {string} text
   */
  const option = (select, value, text) => byId(select).append(make("option", { value }, text));
  DATA.cohorts.forEach((title, place) => {
    if (DATA.people.some((person) => person[COHORT] === place)) option("cohort", place, title || "in no cohort");
  });
  const label = byId("cohort").closest("label");
  if (label) label.hidden = !WITH_COHORTS;
  DATA.criteria.forEach(([number, text], place) => option("criterion", place, `${number} ${text}`));
  DATA.readiness.forEach(([word, sign], place) => option("stands", place, `${sign} ${word}`));
  option("stands", "forward", "may be put forward");
  for (const [code, text] of Object.entries(DATA.rules)) {
    byId("rule-list").append(make("dt", {}, make("strong", {}, code)), make("dd", {}, text));
  }
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let typing;
  byId("who").addEventListener("input", () => {
    clearTimeout(typing);
    typing = setTimeout(choose, 120);
  });
  for (const id of ["cohort", "criterion", "stands", "gone"]) byId(id).addEventListener("change", choose);
  byId("clear").addEventListener("click", () => {
    for (const id of ["who", "cohort", "criterion", "stands", "gone"]) field(id).value = "";
    choose();
  });
  /**
   * @param {"back" | "on"} id
   * @param {"back" | "on"} other
   * @param {number} by
   */
  const turn = (id, other, by) => () => {
    seen.page += by;
    seen.cell = [0, 0];
    draw();
    // A button that cannot be pressed any more lets the focus go; the other one takes it.
    if (button(id).disabled) button(other).focus();
    byId("found").textContent = `${found()} ${byId("page").textContent}`;
  };
  byId("back").addEventListener("click", turn("back", "on", -1));
  byId("on").addEventListener("click", turn("on", "back", 1));
  byId("matrix").addEventListener("keydown", moved);
  // On paper there are no pages to turn.
  window.addEventListener("beforeprint", () => draw(true));
  window.addEventListener("afterprint", () => draw());
  byId("unscripted").hidden = true;
  part(document, ".tools").hidden = false;
  choose();
}

begin();
