// The steps of a workbook: which cell begins one, which short ones are shown together, and how far each is.
//
// A part is a title (of the first to third level) with all up to the next, or one question of the assessment. A step is
// what is shown at once: mostly one part. A part of a few lines is no screen of its own: the head of a chapter goes with
// the first part of it, anything else with what stands before.

/**
 * As much of a cell as is looked at.
 * @typedef {{ text: boolean, source: string, question?: string | undefined }} Piece
 */
/**
 * @typedef {object} Part
 * @property {string} id for addresses: small letters, digits, hyphens
 * @property {string} title
 * @property {number} level
 * @property {string | undefined} question the name of the question that it is
 * @property {number} from its first cell
 * @property {number} to the cell behind its last
 * @property {number} weight roughly how much there is to read, in characters
 * @property {boolean} practice whether something is practised in it
 */
/**
 * @typedef {object} Step
 * @property {string} id that of its main part
 * @property {string} title
 * @property {Part[]} parts
 * @property {number} from
 * @property {number} to
 */
/** @typedef {"open" | "read" | "practised" | "answered" | "unsaved"} How */
/**
 * What is known of how far somebody is.
 * @typedef {{ answered: Set<string>, unsaved: Set<string>, read: Set<string>, practised: Set<string> }} Far
 */

const TITLE = /^(#{1,3}) +(.+)$/m;
const SHORT = 500;
// What a cell shows, in characters of text that take as much room.
const ROOM = /** @type {const} */ ([
  [/^book\.(?:practice|complete|instrument|plot|ask|warm_up|card|finish)\(/, 1000],
  [/\b(?:figures\.|plots\.)/, 800],
  [/^book\.(?:cautions|objectives|summary)\(/, 400],
  [/^book\.words\(/, 100],
  [/^from trainkit/, 0],
]);
const ANY_OUTPUT = 250;
const PRACTISED = /^book\.(?:practice|complete|warm_up)\(/;

/** @param {string} text */
export const slug = (text) =>
  text
    .normalize("NFKD")
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, "-")
    .replace(/^-|-$/g, "")
    .slice(0, 80) || "step";

/**
 * A title without its marks of Markdown.
 * @param {string} text
 */
const plain = (text) =>
  text
    .replace(/[*_`]/g, "")
    .replace(/\s+#+\s*$/, "")
    .trim();

/** @param {Piece} piece */
function weightOf({ text, source }) {
  if (text) return source.replace(TITLE, "").trim().length;
  return ROOM.find(([form]) => form.test(source))?.[1] ?? ANY_OUTPUT;
}

/**
 * @param {Piece[]} pieces
 * @returns {Part[]}
 */
export function partsOf(pieces) {
  /** @type {Part[]} */
  const parts = [];
  /** @type {Map<string, number>} */
  const used = new Map();
  /**
   * @param {string} title
   * @param {number} level
   * @param {number} from
   * @param {string} [question]
   */
  const begin = (title, level, from, question) => {
    const base = slug(title);
    const count = (used.get(base) ?? 0) + 1;
    used.set(base, count);
    const id = count > 1 ? `${base}-${count}` : base;
    parts.push({ id, title, level, question, from, to: from, weight: 0, practice: false });
  };
  pieces.forEach((piece, place) => {
    const title = piece.text ? TITLE.exec(piece.source) : null;
    const { question } = piece;
    if (title) begin(plain(title[2]), title[1].length, place);
    else if (question) begin(`Question ${question}`, 3, place, question);
    else if (!parts.length) begin("Start", 1, place);
    const part = parts[parts.length - 1];
    part.to = place + 1;
    part.weight += weightOf(piece);
    part.practice ||= !piece.text && PRACTISED.test(piece.source);
  });
  return parts;
}

/**
 * @param {Part[]} parts
 * @returns {Step[]}
 */
export function joined(parts) {
  /** @type {Part[][]} */
  const groups = [];
  /** @type {Part[]} heads of chapters that wait for what comes next */
  let waiting = [];
  parts.forEach((part, place) => {
    const next = parts[place + 1];
    const last = groups[groups.length - 1];
    const short = part.weight < SHORT && !part.question;
    if (short && next && (next.level > part.level || next.question || !last)) waiting.push(part);
    else if (short && last && !waiting.length && !last.some(({ question }) => question)) last.push(part);
    else {
      groups.push([...waiting, part]);
      waiting = [];
    }
  });
  return groups.map((group) => {
    const main = group.find(({ weight, question }) => question || weight >= SHORT) ?? group[0];
    return {
      id: main.id,
      title: main.title,
      parts: group,
      from: group[0].from,
      to: group[group.length - 1].to,
    };
  });
}

/** @param {Piece[]} pieces */
export const stepsOf = (pieces) => joined(partsOf(pieces));

/**
 * The step that an address means: by the name of any of its parts.
 * @param {Step[]} steps
 * @param {string | undefined} id
 */
export const stepNamed = (steps, id) =>
  id === undefined ? undefined : steps.find(({ parts }) => parts.some((part) => part.id === id));

/**
 * @param {Step} step
 * @param {Far} far
 * @returns {How}
 */
export function howFar({ id, parts }, { answered, unsaved, read, practised }) {
  const questions = parts.flatMap(({ question }) => question ?? []);
  if (questions.some((name) => unsaved.has(name))) return "unsaved";
  if (questions.length) return questions.every((name) => answered.has(name)) ? "answered" : "open";
  if (practised.has(id)) return "practised";
  if (parts.some(({ practice }) => practice)) return "open";
  return read.has(id) ? "read" : "open";
}

/** A sign that differs in form, not by colour alone, and the word that is read aloud. */
export const SIGNS = /** @type {const} */ ({
  open: ["○", "open"],
  read: ["✓", "read"],
  practised: ["✓", "practised"],
  answered: ["●", "answered"],
  unsaved: ["▲", "not saved"],
});

/**
 * The name of a step in an address, or undefined.
 * @param {string} hash
 */
export const inAddress = (hash) => /^#step=([a-z0-9][a-z0-9-]*)$/.exec(hash)?.[1];
