// What is typed for a number, before the kernel has read it.

/** @typedef {{ kind: "number", text: string, unit: string }} NumberResponse */

/**
 * Another unit was typed than the one that is chosen: what is asked, the number alone, and the two units.
 * @typedef {{ words: string, choices: [keep: string, change: string], number: string, typed: string, picked: string }} Clash
 */

/**
 * The answer that a text and a unit are, or null where nothing is typed.
 * @param {string} text
 * @param {string} unit
 * @returns {NumberResponse | null}
 */
export function typed(text, unit) {
  const kept = text.trim();
  return kept ? { kind: "number", text: kept, unit } : null;
}

/**
 * A bare number without a unit is only half typed: no need to find fault with it yet.
 * @param {NumberResponse | null} given
 * @returns {given is null}
 */
export const halfTyped = (given) => !given || (!given.unit && /^[\d.,\s]+$/.test(given.text));

/**
 * What is typed and chosen once the person has said which unit is meant. A unit that is not among those of the question
 * stays beside its number, and no other is chosen.
 * @param {Clash} clash
 * @param {boolean} kept
 * @param {string[]} units
 * @returns {{ text: string, unit: string }}
 */
export function settled(clash, kept, units) {
  if (!kept) return { text: clash.number, unit: clash.picked };
  if (units.includes(clash.typed)) return { text: clash.number, unit: clash.typed };
  return { text: `${clash.number} ${clash.typed}`, unit: "" };
}

/**
 * How the one unit of a question is written behind the field.
 * @param {string[]} units
 */
export const onlyUnit = (units) => (units[0] === "°" ? "degrees (°)" : (units[0] ?? ""));
