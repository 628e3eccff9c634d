// A calculator below every question with numbers. It is a help and no part of the answer: nothing of it is recorded,
// and its result is not put into the answer by itself.

import { freshId, make } from "./page.js";
import { workOut } from "./sums.js";

export { hasNumbers } from "./sums.js";

const PROMPT = "Type a sum, such as 42 × (300 − 20) ÷ 300. Enter works it out. It is no part of your answer.";
/** The keys, row by row: what stands on them, and what a voice calls those that are signs. */
const KEYS = [
  [["7"], ["8"], ["9"], ["÷", "divided by"], ["(", "bracket open"]],
  [["4"], ["5"], ["6"], ["×", "times"], [")", "bracket closed"]],
  [["1"], ["2"], ["3"], ["−", "minus"], ["√", "square root of"]],
  [["0"], [".", "point"], ["+", "plus"], ["cos", "cosine of degrees"]],
];

/** @returns {HTMLElement} */
export function calculator() {
  const hintId = freshId("sum-hint");
  const input = make("input", {
    class: "tk-sum",
    type: "text",
    autocomplete: "off",
    spellcheck: "false",
    maxlength: "120",
    "aria-label": "Sum to work out",
    "aria-describedby": hintId,
  });
  const result = make("output", { class: "tk-sum-result", "aria-live": "polite" });
  const forget = () => {
    result.textContent = "";
    delete result.dataset.ok;
  };
  const work = () => {
    if (!input.value.trim()) {
      forget();
      return;
    }
    const found = workOut(input.value);
    const ok = "shown" in found;
    result.dataset.ok = String(ok);
    result.textContent = ok ? `= ${found.shown}` : found.problem;
  };
  /** @param {string} sign */
  const type = (sign) => {
    // Where the text stands that the person marked last, or at the end.
    const [from, to] = [input.selectionStart ?? input.value.length, input.selectionEnd ?? input.value.length];
    input.setRangeText(sign === "cos" ? "cos " : sign, from, to, "end");
    forget();
  };
  const back = () => {
    const [from, to] = [input.selectionStart ?? input.value.length, input.selectionEnd ?? input.value.length];
    input.setRangeText("", from === to ? Math.max(0, from - 1) : from, to, "end");
    forget();
  };
  const clear = () => {
    input.value = "";
    forget();
    input.focus();
  };
  input.addEventListener("input", forget);
  input.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing) return;
    event.preventDefault();
    work();
  });
  /** @param {string} words @param {() => void} then @param {Record<string, string>} [more] */
  const button = (words, then, more = {}) =>
    make("button", { type: "button", class: "tk-plain", onclick: then, ...more }, words);
  return make(
    "details",
    { class: "tk-calculator" },
    make("summary", {}, "Calculator"),
    make("p", { class: "tk-hint", id: hintId }, PROMPT),
    make("div", { class: "tk-sum-row" }, input, button("Work out", work), result),
    make(
      "div",
      { class: "tk-keys" },
      ...KEYS.map((row) =>
        make(
          "div",
          { class: "tk-keys-row", role: "group", "aria-label": "Keys" },
          ...row.map(([sign = "", spoken]) => button(sign, () => type(sign), spoken ? { "aria-label": spoken } : {})),
        ),
      ),
      make(
        "div",
        { class: "tk-keys-row", role: "group", "aria-label": "Correct" },
        button("Back", back, { "aria-label": "Take the last sign back" }),
        button("Clear", clear, { "aria-label": "Clear the sum" }),
      ),
    ),
  );
}
