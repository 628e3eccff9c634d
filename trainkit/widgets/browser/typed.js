// What is typed for a number, before the kernel has read it.

/** @typedef {{ kind: "number", text: string, unit: string }} NumberResponse */

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
 * How the one unit of a question is written behind the field.
 * @param {string[]} units
 */
export const onlyUnit = (units) => (units[0] === "°" ? "degrees (°)" : (units[0] ?? ""));
