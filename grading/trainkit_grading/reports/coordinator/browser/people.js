// The coordinator's people: what is known of each, which of them a choice takes, and in which order.

/**
 * What travels in the page, as `_data` in Python writes it. What many people have alike stands once, and they name its
 * place.
 * @typedef {{
 *   criteria: [number: string, text: string, modules: string[], steps: string[]][],
 *   modules: [name: string, title: string, cut: number, most: number][],
 *   cohorts: string[],
 *   readiness: [word: string, sign: string][],
 *   rules: Record<string, string>,
 *   reasons: string[],
 *   said: any[],
 *   sessions: [invigilator: string, room: string, begin: string, end: string, aids: string][],
 *   people: Person[],
 *   detailed: boolean,
 * }} Data
 */
/**
 * @typedef {[
 *   id: string, name: string, cohort: number, gone: number, verdicts: string, codes: string, pieces: string,
 *   forward: number, reason: number, results: (Result | 0)[], signed: Signed[],
 * ]} Person
 */
/** @typedef {[item: string, asked: string, answer: string[], verdict: string, points: number, most: number, reason: string, unsafe: number]} Answer */
/**
 * A module's result; what it ends with may be left out.
 * @typedef {[
 *   points: number, minute: number, session: number, entry: number, form: string, attempt?: number, attempts?: number,
 *   late?: number, critical?: string, paper?: number, flags?: string[],
 *   detail?: null | [at: string, by: string, from: string[], answers: Answer[]],
 *   unsafe?: string, spoken?: string,
 * ]} Result
 */
/**
 * Practical work that somebody signed for.
 * @typedef {[what: number, steps: number, became: number, people: number, at: string, entry: number, same: number]} Signed
 */

// Which place of a person's list holds what.
export const ID = 0;
export const NAME = 1;
export const COHORT = 2;
export const GONE = 3;
export const VERDICTS = 4;
export const CODES = 5;
export const PIECES = 6;
export const FORWARD = 7;
export const REASON = 8;
export const RESULTS = 9;
export const SIGNED = 10;

/**
 * Which readiness a person has for the criterion at a place.
 * @param {Person} person
 * @param {number} place
 */
export const readiness = (person, place) => Number(person[VERDICTS][place]);

/** @param {Person} person */
export const readyCount = (person) => [...person[VERDICTS]].filter((each) => each === "0").length;

/**
 * What is chosen above the table; an empty text chooses all.
 * @typedef {{ who: string, cohort: string, criterion: string, stands: string, here: boolean }} Choice
 */
/**
 * @param {Person} person
 * @param {Choice} choice
 */
export function matches(person, { who, cohort, criterion, stands, here }) {
  if (here && person[GONE]) return false;
  if (cohort !== "" && person[COHORT] !== Number(cohort)) return false;
  const wanted = who.trim().toLocaleLowerCase();
  if (wanted && !`${person[NAME]} ${person[ID]}`.toLocaleLowerCase().includes(wanted)) return false;
  if (stands === "forward") return Boolean(person[FORWARD]);
  if (stands === "") return true;
  return criterion === "" ? person[VERDICTS].includes(stands) : person[VERDICTS][Number(criterion)] === stands;
}

// Columns of the table are known by the place of what they show in a person's list, "ready", or from here on by criterion.
export const CRITERIA = 100;
/** @typedef {number | "ready"} Column */

/**
 * Sort people by a column, and within it by name.
 * @param {Person[]} people
 * @param {Column} by
 * @param {boolean} up
 */
export function inOrder(people, by, up) {
  const collator = new Intl.Collator("en");
  /**
   * @param {Person} one
   * @param {Person} other
   */
  const way = (one, other) => {
    if (by === NAME) return collator.compare(one[NAME], other[NAME]);
    if (by === COHORT) return one[COHORT] - other[COHORT];
    if (by === "ready") return readyCount(other) - readyCount(one);
    return readiness(one, by - CRITERIA) - readiness(other, by - CRITERIA);
  };
  return [...people].sort((one, other) => (up ? 1 : -1) * way(one, other) || collator.compare(one[NAME], other[NAME]));
}

/**
 * @param {number} shown
 * @param {number} all
 */
export const foundWords = (shown, all) => (shown === all ? `${all} people.` : `${shown} of ${all} people.`);

/**
 * The cell to which a key leads from a cell, or undefined where it is none of these keys.
 * @param {string} key
 * @param {number} line
 * @param {number} place
 * @param {number} last
 * @returns {[line: number, place: number] | undefined}
 */
export function keyedTo(key, line, place, last) {
  if (key === "ArrowUp") return [line - 1, place];
  if (key === "ArrowDown") return [line + 1, place];
  if (key === "ArrowLeft") return [line, place - 1];
  if (key === "ArrowRight") return [line, place + 1];
  if (key === "Home") return [line, 0];
  return key === "End" ? [line, last] : undefined;
}
