// A text of a workbook as it is read aloud: units and signs in words.

/** @typedef {Record<string, [one: string, several: string]>} Units */

/** @type {Units} */
const UNITS = {
  "N·m": ["newton metre", "newton metres"],
  "lbf·ft": ["pound-force foot", "pound-force feet"],
  "lbf·in": ["pound-force inch", "pound-force inches"],
  "ozf·in": ["ounce-force inch", "ounce-force inches"],
  "kgf·m": ["kilogram-force metre", "kilogram-force metres"],
  "kgf·cm": ["kilogram-force centimetre", "kilogram-force centimetres"],
  "dyn·cm": ["dyne centimetre", "dyne centimetres"],
  "mm²": ["square millimetre", "square millimetres"],
  "N/mm²": ["newton per square millimetre", "newtons per square millimetre"],
  MPa: ["megapascal", "megapascals"],
  kN: ["kilonewton", "kilonewtons"],
  lbf: ["pound of force", "pounds of force"],
  mm: ["millimetre", "millimetres"],
  cm: ["centimetre", "centimetres"],
  kg: ["kilogram", "kilograms"],
  min: ["minute", "minutes"],
};
// Alone they are other words or letters; behind a number they are units.
/** @type {Units} */
const BEHIND_A_NUMBER = {
  N: ["newton", "newtons"],
  m: ["metre", "metres"],
  "°": ["degree", "degrees"],
  "%": ["percent", "percent"],
};
/** @type {Record<string, string>} */
const SIGNS = {
  "÷": "divided by",
  "×": "times",
  "±": "plus or minus",
  "≤": "at most",
  "≥": "at least",
  "≈": "about",
  "=": "equals",
  "→": "to",
  "½": "a half",
  "¼": "a quarter",
  "¾": "three quarters",
};

/** @param {string} text */
const escaped = (text) => text.replace(/[.*+?^${}()|[\]\\/]/g, "\\$&");
/** @param {Units} names */
const longest = (names) =>
  Object.keys(names)
    .sort((one, other) => other.length - one.length)
    .map(escaped)
    .join("|");
const WORD = "[\\p{L}\\p{N}]";
const UNIT = new RegExp(`(?:(?<!${WORD})(\\d[\\d.,]*)?\\s*)(?<![\\p{L}·])(${longest(UNITS)})(?![\\p{L}²·])`, "gu");
const MEASURED = new RegExp(`(\\d[\\d.,]*)\\s*(${longest(BEHIND_A_NUMBER)})(?![\\p{L}·²])`, "gu");
const SIGN = new RegExp(`[${Object.keys(SIGNS).join("")}]`, "gu");

/**
 * One of something, or several; a whole sentence about a unit means several.
 * @param {string} number
 * @param {[one: string, several: string]} words
 */
const counted = (number, [one, several]) => (number === "1" ? one : several);

/** @param {string} text */
export function spoken(text) {
  return text
    .replace(/[\u2009\u202f\u00a0]/g, " ")
    .replace(/[✓▲▼○◐…●⠿]/gu, " ")
    .replace(UNIT, (_, number, unit) => ` ${number ? `${number} ` : ""}${counted(number, UNITS[unit])}`)
    .replace(MEASURED, (_, number, unit) => `${number} ${counted(number, BEHIND_A_NUMBER[unit])}`)
    .replace(/(?<=\d)\s*[–]\s*(?=\d)/g, " to ")
    .replace(/(?<=[\d\p{L})])\s+[−-]\s+(?=[\d\p{L}(])/gu, " minus ")
    .replace(/[−](?=\s*\d)/g, " minus ")
    .replace(/(?<=\d)\s*\+\s*(?=[\d(])|(?<=\))\s*\+\s*/g, " plus ")
    .replace(/\+(?=\s*\d)/g, " plus ")
    .replace(SIGN, (sign) => ` ${SIGNS[sign]} `)
    .replace(/\s+·\s+/g, ", ")
    .replace(/\s+/g, " ")
    .trim();
}

/**
 * Short pieces: some voices fall silent in a long one, and it can be stopped between two.
 * @param {string} text
 */
export const sentences = (text) =>
  spoken(text)
    .split(/(?<=[.?!:;])\s+(?=[\p{Lu}\d“"(])/u)
    .filter((piece) => /[\p{L}\p{N}]/u.test(piece));
