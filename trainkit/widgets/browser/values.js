// Values as they are compared and told.

/**
 * Whether two plain values are alike, in whatever order their keys come.
 * @param {unknown} one
 * @param {unknown} other
 */
export const same = (one, other) => JSON.stringify(sorted(one)) === JSON.stringify(sorted(other));

/**
 * @param {unknown} value
 * @returns {unknown}
 */
const sorted = (value) =>
  value && typeof value === "object" && !Array.isArray(value)
    ? Object.fromEntries(
        Object.entries(value)
          .sort(([one], [other]) => (one < other ? -1 : 1))
          .map(([key, each]) => [key, sorted(each)]),
      )
    : value;

/** @param {string} iso */
export function clockTime(iso) {
  const when = new Date(iso);
  const hours = when.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  const today = new Date().toDateString() === when.toDateString();
  return today ? hours : `${when.toLocaleDateString("en-GB", { day: "numeric", month: "short" })}, ${hours}`;
}
