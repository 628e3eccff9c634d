// What the calculator works out: a sum as people write it. Nothing that is typed is ever run.

/** @typedef {{ value: number, shown: string } | { problem: string }} Worked */

const LONGEST = 120;
const UNREADABLE = "This sum cannot be read. Use numbers, + − × ÷, √, cos and brackets.";
const UNFINISHED = "Something is missing at the end of this sum.";
const BRACKETS = "A bracket has no partner.";
const TWO_WAYS = "can be read in two ways: leave the comma out, or write a point for decimals.";
const BY_NOUGHT = "Nothing can be divided by 0.";
const NO_ROOT = "A number below 0 has no root.";
const TOO_LARGE = "The result is too large to show.";

/** Signs that stand for the same, as keyboards have them. */
const SAME = { "*": "×", x: "×", X: "×", "·": "×", "/": "÷", ":": "÷", "-": "−", "–": "−" };
const TOKEN = /\s*(?:((?:\d[\d.,]*|[.,]\d+))|(cos|√|[-+*xX·/:–−×÷()]))/y;

/** What the person is told instead of a result. */
class Problem extends Error {}

/** @param {string} written */
function numberOf(written) {
  if (/^\d{1,3},\d{3}$/.test(written)) throw new Problem(`${written} ${TWO_WAYS}`);
  const plain = written.replace(",", ".");
  if (!/^(?:\d+\.?\d*|\.\d+)$/.test(plain)) throw new Problem(UNREADABLE);
  return Number(plain);
}

/** @param {string} text @returns {(number | string)[]} */
function tokensOf(text) {
  const found = [];
  TOKEN.lastIndex = 0;
  let rest = 0;
  for (let met = TOKEN.exec(text); met; met = TOKEN.exec(text)) {
    const [, digits, sign = ""] = met;
    found.push(digits ? numberOf(digits) : (/** @type {Record<string, string>} */ (SAME)[sign] ?? sign));
    rest = TOKEN.lastIndex;
  }
  if (text.slice(rest).trim()) throw new Problem(UNREADABLE);
  return found;
}

/**
 * Works a sum out: brackets first, then √ and cos, then × and ÷, then + and −, from left to right.
 * @param {string} text
 * @returns {Worked}
 */
export function workOut(text) {
  try {
    if (text.length > LONGEST) throw new Problem(UNREADABLE);
    const tokens = tokensOf(text);
    let at = 0;
    /** @param {string[]} signs */
    const takes = (...signs) => {
      const next = tokens[at];
      if (typeof next !== "string" || !signs.includes(next)) return "";
      at += 1;
      return next;
    };
    /** @returns {number} */
    const sum = () => {
      let value = product();
      for (let sign = takes("+", "−"); sign; sign = takes("+", "−")) {
        const more = product();
        value = sign === "+" ? value + more : value - more;
      }
      return value;
    };
    /** @returns {number} */
    const product = () => {
      let value = factor();
      for (let sign = takes("×", "÷"); sign; sign = takes("×", "÷")) {
        const by = factor();
        if (sign === "÷" && by === 0) throw new Problem(BY_NOUGHT);
        value = sign === "×" ? value * by : value / by;
      }
      return value;
    };
    /** @returns {number} */
    const factor = () => {
      if (takes("−")) return -factor();
      if (takes("+")) return factor();
      if (takes("√")) {
        const under = factor();
        if (under < 0) throw new Problem(NO_ROOT);
        return Math.sqrt(under);
      }
      if (takes("cos")) return Math.cos((factor() * Math.PI) / 180);
      if (takes("(")) {
        const value = sum();
        if (!takes(")")) throw new Problem(at < tokens.length ? UNREADABLE : BRACKETS);
        return value;
      }
      const next = tokens[at];
      if (typeof next !== "number") throw new Problem(at < tokens.length ? UNREADABLE : UNFINISHED);
      at += 1;
      return next;
    };
    const value = sum();
    if (at < tokens.length) throw new Problem(tokens[at] === ")" ? BRACKETS : UNREADABLE);
    if (!Number.isFinite(value)) throw new Problem(TOO_LARGE);
    return { value, shown: written(value) };
  } catch (problem) {
    if (problem instanceof Problem) return { problem: problem.message };
    throw problem;
  }
}

/**
 * Writes a result with at most eight figures, which is more than any tool can be set to.
 * @param {number} value
 */
function written(value) {
  const short = Number(value.toPrecision(8)) || 0;
  return String(short).replace("-", "−");
}

const RECKONED = new Set(["number", "choice", "several", "setting"]);

/**
 * Whether a question asks for a number or tells one that may be worked with. A number that only counts lines is none.
 * @param {import("./shapes.js").Question} shown
 */
export function hasNumbers({ kind, given, control }) {
  if (kind === "number") return true;
  if (!RECKONED.has(kind)) return false;
  const options = "options" in control ? control.options : [];
  const told = [...given.map(({ value }) => value), ...options.map(({ text }) => text)];
  return told.some((text) => /\d/.test(text.replace(/^\d+\. /, "")));
}
