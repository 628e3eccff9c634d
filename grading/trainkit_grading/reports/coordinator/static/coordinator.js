"use strict";
// The coordinator's table: whom it shows, in which order, and what stands behind a cell. It writes text only, never
// markup, and asks nothing of any server.

const DATA = JSON.parse(document.getElementById("data").textContent);
const EPOCH = Date.UTC(2020, 0, 1); // minutes of arrival count from here
const ROWS = 100; // on one page of the table
// Which place of a person's list holds what.
const [ID, NAME, COHORT, GONE, VERDICTS, CODES, PIECES, FORWARD, REASON, RESULTS, SIGNED] = Array(11).keys();
const seen = { rows: [], page: 0, by: NAME, up: true, cell: [0, 0] };
const WITH_COHORTS = DATA.people.some((person) => DATA.cohorts[person[COHORT]]);
const byId = (id) => document.getElementById(id);

function make(tag, attributes, ...inside) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (value !== false) node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...inside.filter((each) => each !== ""));
  return node;
}
const name = (text) => make("bdi", {}, text);
const readiness = (person, place) => Number(person[VERDICTS][place]);
const readyCount = (person) => [...person[VERDICTS]].filter((each) => each === "0").length;

function choose() {
  const who = byId("who").value.trim().toLocaleLowerCase();
  const cohort = byId("cohort").value;
  const criterion = byId("criterion").value;
  const stands = byId("stands").value;
  const here = byId("gone").value === "here";
  const matches = (person) => {
    if (here && person[GONE]) return false;
    if (cohort !== "" && person[COHORT] !== Number(cohort)) return false;
    if (who && !`${person[NAME]} ${person[ID]}`.toLocaleLowerCase().includes(who)) return false;
    if (stands === "forward") return Boolean(person[FORWARD]);
    if (stands === "") return true;
    return criterion === "" ? person[VERDICTS].includes(stands) : person[VERDICTS][Number(criterion)] === stands;
  };
  seen.rows = DATA.people.filter(matches);
  order();
  seen.page = 0;
  seen.cell = [0, 0];
  draw();
}

function order() {
  const collator = new Intl.Collator("en");
  const ways = {
    [NAME]: (one, other) => collator.compare(one[NAME], other[NAME]),
    [COHORT]: (one, other) => one[COHORT] - other[COHORT],
    ready: (one, other) => readyCount(other) - readyCount(one),
  };
  const way = ways[seen.by] ?? ((one, other) => readiness(one, seen.by - 100) - readiness(other, seen.by - 100));
  seen.rows.sort((one, other) => (seen.up ? 1 : -1) * way(one, other) || collator.compare(one[NAME], other[NAME]));
}

function sortBy(column) {
  seen.up = seen.by === column ? !seen.up : true;
  seen.by = column;
  order();
  seen.page = 0;
  draw();
  byId("matrix").querySelector(`thead [data-by="${column}"]`).focus();
  byId("found").textContent = `${found()} Sorted anew.`;
}

function found() {
  const all = seen.rows.length === DATA.people.length;
  return all ? `${DATA.people.length} people.` : `${seen.rows.length} of ${DATA.people.length} people.`;
}

function draw(all = false) {
  const table = byId("matrix");
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
  table.tHead.replaceChildren(
    make(
      "tr",
      {},
      head(NAME, "Person"),
      WITH_COHORTS ? head(COHORT, "Cohort") : "",
      head("ready", "Ready for"),
      ...DATA.criteria.map(([number, text], place) => head(100 + place, number, text)),
    ),
  );
  const pages = Math.max(1, Math.ceil(seen.rows.length / ROWS));
  seen.page = Math.min(seen.page, pages - 1);
  const begin = all ? 0 : seen.page * ROWS;
  const some = seen.rows.slice(begin, all ? undefined : begin + ROWS);
  table.tBodies[0].replaceChildren(...some.map(row));
  byId("found").textContent = found();
  byId("page").textContent = `page ${seen.page + 1} of ${pages}`;
  byId("back").disabled = seen.page === 0;
  byId("on").disabled = seen.page === pages - 1;
  document.querySelector(".paging").hidden = pages === 1;
  reachable();
}

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
          onclick: (event) => open(person, place, event.currentTarget),
        },
        `${sign} ${word}`,
      ),
    );
  });
  return make(
    "tr",
    {},
    make("th", { scope: "row" }, name(person[NAME]), make("small", {}, name(person[ID]), person[GONE] ? ", has left" : "")),
    WITH_COHORTS ? make("td", {}, DATA.cohorts[person[COHORT]]) : "",
    make("td", { class: "n" }, `${readyCount(person)} of ${DATA.criteria.length}`),
    ...cells,
  );
}

// One stop for the Tab key; arrows go from cell to cell.
function reachable() {
  const cells = byId("matrix").tBodies[0].querySelectorAll("[data-cell]");
  for (const cell of cells) cell.tabIndex = -1;
  const [line, place] = seen.cell;
  const chosen = byId("matrix").querySelector(`[data-cell="${line} ${place}"]`) ?? cells[0];
  if (chosen) chosen.tabIndex = 0;
}

function moved(event) {
  const cell = event.target.closest?.("[data-cell]");
  const steps = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] };
  if (!cell || event.ctrlKey || event.metaKey || event.altKey) return;
  const [line, place] = cell.dataset.cell.split(" ").map(Number);
  const last = DATA.criteria.length - 1;
  const goal = {
    Home: [line, 0],
    End: [line, last],
    ...Object.fromEntries(Object.entries(steps).map(([key, [down, right]]) => [key, [line + down, place + right]])),
  }[event.key];
  if (!goal) return;
  event.preventDefault();
  const next = byId("matrix").querySelector(`[data-cell="${goal[0]} ${goal[1]}"]`);
  if (!next) return;
  seen.cell = goal;
  reachable();
  next.focus();
}

// What stands behind a cell.
function open(person, place, from) {
  const [number, text, modules, steps] = DATA.criteria[place];
  const [word, sign] = DATA.readiness[readiness(person, place)];
  const before = DATA.criteria.slice(0, place).reduce((sum, [, , some, more]) => sum + some.length + more.length, 0);
  const pieces = person[PIECES].slice(before);
  const code = `C${person[CODES][place]}`;
  const dialog = byId("evidence");
  const evidence = [
    ...modules.map((module, piece) => moduleEvidence(person, module, `M${pieces[piece]}`)),
    ...steps.map((step, piece) => stepEvidence(person, step, `S${pieces[modules.length + piece]}`)),
  ];
  dialog.replaceChildren(
    make("button", { type: "button", class: "close", onclick: () => dialog.close() }, "Close"),
    make("h2", { id: "evidence-title" }, name(person[NAME]), `: criterion ${number}`),
    make("p", {}, text),
    make("p", { class: `state ${word.replace(" ", "-")}` }, `${sign} ${word}`),
    make("p", {}, `Rule ${code}: ${DATA.rules[code]}`),
    ...evidence.flat(),
    make("h3", {}, "Put forward?"),
    make("p", {}, `${person[FORWARD] ? "Yes" : "No"}. ${DATA.reasons[person[REASON]]}`),
  );
  dialog.onclose = () => from.focus();
  dialog.showModal();
  dialog.scrollTop = 0;
}

function piece(title, code, ...more) {
  return [make("h3", {}, title), make("p", {}, `Rule ${code}: ${DATA.rules[code]}`), ...more];
}

function moduleEvidence(person, module, code) {
  const place = DATA.modules.findIndex(([each]) => each === module);
  if (place < 0) return piece(`Module ${module}: not given out`, code);
  const [, title, cut, most] = DATA.modules[place];
  const result = person[RESULTS][place];
  if (!result) return piece(`Module: ${title}`, code);
  const [points, minute, session, entry, form, attempt = 1, attempts = 1, late = 0, critical = "", paper = 0, flags = [], detail] = result;
  const arrived = minute < 0 ? "" : new Date(EPOCH + 60000 * minute).toISOString().slice(0, 16).replace("T", " ");
  const sat = session < 0 ? null : DATA.sessions[session];
  const lines = [
    `${points} of ${most} points, ${((100 * points) / most).toFixed(1)} %; passed from ${cut} %.`,
    `Attempt ${attempt}${attempts > 1 ? ` of ${attempts} counts` : ""}, form ${form}, answered on ${paper ? "paper" : "the screen"}.`,
    arrived ? `Handed in ${arrived} UTC${late > 0 ? `, ${duration(late)} late` : ""}.` : "No time of arrival is recorded.",
    sat
      ? `Session: ${sat[0]} watched in ${sat[1]}, ${sat[2]} to ${sat[3].slice(11)} UTC${sat[4] ? `; aids: ${sat[4]}` : ""}.`
      : "No session record: nobody has said who watched.",
    critical ? `Critical error: ${critical}.` : "",
    `Ledger entry ${entry}${detail ? `, written ${detail[0]} UTC by ${detail[1]}` : ""}.`,
    detail ? `Made from: ${detail[2].join(", ")}.` : "",
  ].filter(Boolean);
  const parts = [
    make("ul", {}, ...lines.map((line) => make("li", {}, line))),
    ...flags.map((flag) => make("p", {}, `To look at: ${flag}`)),
  ];
  if (detail) parts.push(answers(detail[3]));
  else parts.push(make("p", {}, "Each answer: ", make("code", {}, `trainkit-course report --for coordinator --apprentice ${person[ID]}`)));
  return piece(`Module: ${title}`, code, ...parts);
}

function duration(minutes) {
  if (minutes < 120) return `${minutes} min`;
  return minutes < 2880 ? `${Math.floor(minutes / 60)} h` : `${Math.floor(minutes / 1440)} days`;
}

function answers(rows) {
  const line = ([item, asked, answer, verdict, points, most, reason, critical]) =>
    make(
      "tr",
      {},
      make("th", { scope: "row" }, item),
      make("td", {}, asked),
      make("td", {}, ...(answer.length ? answer.map((each) => make("div", {}, each)) : ["–"])),
      make("td", { class: critical ? "critical" : "" }, `${critical ? "▲ would do harm; " : ""}${verdict}`, make("small", {}, reason)),
      make("td", { class: "n" }, `${points} of ${most}`),
    );
  return make(
    "details",
    {},
    make("summary", {}, `The ${rows.length} answers`),
    make(
      "div",
      { class: "scroll" },
      make(
        "table",
        {},
        make("thead", {}, make("tr", {}, ...["Item", "Asked", "Answered", "Marked", "Points"].map((text) => make("th", { scope: "col" }, text)))),
        make("tbody", {}, ...rows.map(line)),
      ),
    ),
  );
}

// What many people have alike travels once.
function work([what, steps, became, people, at, entry, same]) {
  const [observer, trainer, engine, medium] = DATA.said[people];
  const outcomes = DATA.said[became];
  const line = ([id, text, critical], place) => [id, text, critical, outcomes[place]];
  return [...DATA.said[what], DATA.said[steps].map(line), observer, trainer, engine, at, medium, entry, same];
}

function stepEvidence(person, asked, code) {
  const [sheet, step] = asked.split(":");
  const done = person[SIGNED].map(work).filter(([checklist]) => sheet === "any" || checklist === sheet);
  const title = `Practical work: ${sheet === "any" ? "any checklist" : sheet}${step ? `, step ${step}` : ""}`;
  if (!done.length) return piece(title, code);
  const parts = done.flatMap(([, called, verdict, rule, steps, observer, trainer, engine, at, medium, entry, same]) => [
    make("p", {}, make("strong", {}, `${called}: ${verdict}.`), ` ${rule}`),
    make(
      "p",
      {},
      `${observer} observed on ${at} UTC, on ${medium}${engine ? `, engine: ${engine}` : ""}${trainer ? `; trained by ${trainer}` : ""}. Ledger entry ${entry}.${same ? " Assessor and trainer are the same person." : ""}`,
    ),
    make(
      "details",
      { open: Boolean(step) },
      make("summary", {}, `The ${steps.length} steps`),
      make(
        "ul",
        {},
        ...steps
          .filter(([id]) => !step || id === step)
          .map(([, text, critical, outcome]) => make("li", {}, `${critical ? "▲ critical: " : ""}${text}: ${outcome}`)),
      ),
    ),
  ]);
  return piece(title, code, ...parts);
}

function begin() {
  const option = (select, value, text) => byId(select).append(make("option", { value }, text));
  DATA.cohorts.forEach((title, place) => {
    if (DATA.people.some((person) => person[COHORT] === place)) option("cohort", place, title || "in no cohort");
  });
  byId("cohort").closest("label").hidden = !WITH_COHORTS;
  DATA.criteria.forEach(([number, text], place) => option("criterion", place, `${number} ${text}`));
  DATA.readiness.forEach(([word, sign], place) => option("stands", place, `${sign} ${word}`));
  option("stands", "forward", "may be put forward");
  for (const [code, text] of Object.entries(DATA.rules)) {
    byId("rule-list").append(make("dt", {}, make("strong", {}, code)), make("dd", {}, text));
  }
  let typing = 0;
  byId("who").addEventListener("input", () => {
    clearTimeout(typing);
    typing = setTimeout(choose, 120);
  });
  for (const id of ["cohort", "criterion", "stands", "gone"]) byId(id).addEventListener("change", choose);
  byId("clear").addEventListener("click", () => {
    for (const id of ["who", "cohort", "criterion", "stands"]) byId(id).value = "";
    byId("gone").value = "";
    choose();
  });
  const turn = (by) => (event) => {
    seen.page += by;
    seen.cell = [0, 0];
    draw();
    // A button that cannot be pressed any more lets the focus go; the other one takes it.
    if (event.currentTarget.disabled) byId(by > 0 ? "back" : "on").focus();
    byId("found").textContent = `${found()} ${byId("page").textContent}`;
  };
  byId("back").addEventListener("click", turn(-1));
  byId("on").addEventListener("click", turn(1));
  byId("matrix").addEventListener("keydown", moved);
  // On paper there are no pages to turn.
  window.addEventListener("beforeprint", () => draw(true));
  window.addEventListener("afterprint", () => draw());
  byId("unscripted").hidden = true;
  document.querySelector(".tools").hidden = false;
  choose();
}

begin();
