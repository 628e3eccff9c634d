// What stands behind a cell of the coordinator's table: results, practical work, and the rule that made it so.

import { element as make } from "../../../../../trainkit/widgets/browser/page.js";
import { CODES, FORWARD, ID, NAME, PIECES, REASON, RESULTS, SIGNED, readiness } from "./people.js";

/** @import { Answer, Data, Person, Signed } from "./people.js" */

const EPOCH = Date.UTC(2020, 0, 1); // minutes of arrival count from here

/** @param {string} text */
export const name = (text) => make("bdi", {}, text);

/** @param {number} minutes */
export function duration(minutes) {
  if (minutes < 120) return `${minutes} min`;
  return minutes < 2880 ? `${Math.floor(minutes / 60)} h` : `${Math.floor(minutes / 1440)} days`;
}

/**
 * @param {number} minute since the beginning of 2020; below nought where none is recorded
 */
export const arrival = (minute) =>
  minute < 0 ? "" : new Date(EPOCH + 60000 * minute).toISOString().slice(0, 16).replace("T", " ");

/**
 * Open what stands behind a cell.
 * @param {HTMLDialogElement} dialog
 * @param {Data} data
 * @param {Person} person
 * @param {number} place
 * @param {HTMLElement} from takes the focus back
 */
export function open(dialog, data, person, place, from) {
  const [number, text, modules, steps] = data.criteria[place];
  const [word, sign] = data.readiness[readiness(person, place)];
  const before = data.criteria.slice(0, place).reduce((sum, [, , some, more]) => sum + some.length + more.length, 0);
  const pieces = person[PIECES].slice(before);
  const code = `C${person[CODES][place]}`;
  const evidence = [
    ...modules.map((module, piece) => moduleEvidence(data, person, module, `M${pieces[piece]}`)),
    ...steps.map((step, piece) => stepEvidence(data, person, step, `S${pieces[modules.length + piece]}`)),
  ];
  dialog.replaceChildren(
    make("button", { type: "button", class: "close", onclick: () => dialog.close() }, "Close"),
    make("h2", { id: "evidence-title" }, name(person[NAME]), `: criterion ${number}`),
    make("p", {}, text),
    make("p", { class: `state ${word.replace(" ", "-")}` }, `${sign} ${word}`),
    make("p", {}, `Rule ${code}: ${data.rules[code]}`),
    ...evidence.flat(),
    make("h3", {}, "Put forward?"),
    make("p", {}, `${person[FORWARD] ? "Yes" : "No"}. ${data.reasons[person[REASON]]}`),
  );
  dialog.onclose = () => from.focus();
  dialog.showModal();
  dialog.scrollTop = 0;
}

/**
 * @param {Data} data
 * @param {string} title
 * @param {string} code
 * @param {Node[]} more
 */
function piece(data, title, code, ...more) {
  return [make("h3", {}, title), make("p", {}, `Rule ${code}: ${data.rules[code]}`), ...more];
}

/**
 * @param {Data} data
 * @param {Person} person
 * @param {string} module
 * @param {string} code
 */
function moduleEvidence(data, person, module, code) {
  const place = data.modules.findIndex(([each]) => each === module);
  if (place < 0) return piece(data, `Module ${module}: not given out`, code);
  const [, title, cut, most] = data.modules[place];
  const result = person[RESULTS][place];
  if (!result) return piece(data, `Module: ${title}`, code);
  const [
    points,
    minute,
    session,
    entry,
    form,
    attempt = 1,
    attempts = 1,
    late = 0,
    critical = "",
    paper = 0,
    flags = [],
    detail,
    unsafe = "",
    spoken = "",
  ] = result;
  const arrived = arrival(minute);
  const sat = session < 0 ? null : data.sessions[session];
  const lines = [
    `${points} of ${most} points, ${((100 * points) / most).toFixed(1)} %; passed from ${cut} %.`,
    `Attempt ${attempt}${attempts > 1 ? ` of ${attempts} counts` : ""}, form ${form}, answered on ${paper ? "paper" : "the screen"}.`,
    arrived
      ? `Handed in ${arrived} UTC${late > 0 ? `, ${duration(late)} late` : ""}.`
      : "No time of arrival is recorded.",
    sat
      ? `Session: ${sat[0]} watched in ${sat[1]}, ${sat[2]} to ${sat[3].slice(11)} UTC${sat[4] ? `; aids: ${sat[4]}` : ""}.`
      : "Not supervised: no session record says who watched.",
    unsafe ? `Unsafe answers: ${unsafe}.` : "",
    critical && spoken !== "waiting" ? `Critical error: ${critical}.` : "",
    spoken === "waiting"
      ? "A spoken check waits: one worded answer bars a pass."
      : spoken
        ? `Spoken check: ${spoken}.`
        : "",
    `Ledger entry ${entry}${detail ? `, written ${detail[0]} UTC by ${detail[1]}` : ""}.`,
    detail ? `Made from: ${detail[2].join(", ")}.` : "",
  ].filter(Boolean);
  /** @type {HTMLElement[]} */
  const parts = [
    make("ul", {}, ...lines.map((line) => make("li", {}, line))),
    ...flags.map((flag) => make("p", {}, `To look at: ${flag}`)),
  ];
  if (detail) parts.push(answers(detail[3]));
  else
    parts.push(
      make(
        "p",
        {},
        "Each answer: ",
        make("code", {}, `trainkit-course report --for coordinator --apprentice ${person[ID]}`),
      ),
    );
  return piece(data, `Module: ${title}`, code, ...parts);
}

/** @param {Answer[]} rows */
function answers(rows) {
  /** @param {Answer} answer */
  const line = ([item, asked, answer, verdict, points, most, reason, unsafe]) =>
    make(
      "tr",
      {},
      make("th", { scope: "row" }, item),
      make("td", {}, asked),
      make("td", {}, ...(answer.length ? answer.map((each) => make("div", {}, each)) : ["–"])),
      make(
        "td",
        { class: unsafe ? "critical" : "" },
        `${unsafe ? "▲ unsafe answer; " : ""}${verdict}`,
        make("small", {}, reason),
      ),
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
        make(
          "thead",
          {},
          make(
            "tr",
            {},
            ...["Item", "Asked", "Answered", "Marked", "Points"].map((text) => make("th", { scope: "col" }, text)),
          ),
        ),
        make("tbody", {}, ...rows.map(line)),
      ),
    ),
  );
}

/**
 * What many people have alike travels once.
 * @param {Data} data
 * @param {Signed} signed
 */
function work(data, [what, steps, became, people, at, entry, same]) {
  const [observer, trainer, engine, medium] = data.said[people];
  const outcomes = data.said[became];
  const [checklist, called, verdict, rule] = data.said[what];
  /** @type {{ id: string, text: string, critical: number, outcome: string }[]} */
  const lines = data.said[steps].map((/** @type {any[]} */ [id, text, critical], /** @type {number} */ place) => ({
    ...{ id, text, critical },
    outcome: outcomes[place],
  }));
  return { checklist, called, verdict, rule, steps: lines, observer, trainer, engine, at, medium, entry, same };
}

/**
 * @param {Data} data
 * @param {Person} person
 * @param {string} asked
 * @param {string} code
 */
function stepEvidence(data, person, asked, code) {
  const [sheet, step] = asked.split(":");
  const done = person[SIGNED].map((signed) => work(data, signed)).filter(
    ({ checklist }) => sheet === "any" || checklist === sheet,
  );
  const title = `Practical work: ${sheet === "any" ? "any checklist" : sheet}${step ? `, step ${step}` : ""}`;
  if (!done.length) return piece(data, title, code);
  const parts = done.flatMap(({ called, verdict, rule, steps, observer, trainer, engine, at, medium, entry, same }) => [
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
          .filter(({ id }) => !step || id === step)
          .map(({ text, critical, outcome }) => make("li", {}, `${critical ? "▲ critical: " : ""}${text}: ${outcome}`)),
      ),
    ),
  ]);
  return piece(data, title, code, ...parts);
}
