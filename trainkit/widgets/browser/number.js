// A number with its unit. The kernel says how it understands what was typed; the same reading decides the mark.

import { freshId, make, settleOnEnter } from "./page.js";
import { halfTyped, onlyUnit, settled, typed } from "./typed.js";

/** @import { Control, Hooks, Question, QuestionReply } from "./shapes.js" */
/** @import { Clash, NumberResponse } from "./typed.js" */

/**
 * @param {Question<"number">} shown
 * @param {Hooks} hooks
 * @returns {Control<NumberResponse>}
 */
export function numberControl(shown, hooks) {
  const { units, to_nearest: nearest } = shown.control;
  const hintId = freshId("hint");
  const input = make("input", {
    class: "tk-input",
    type: "text",
    inputmode: "decimal",
    autocomplete: "off",
    spellcheck: "false",
    maxlength: "60",
    "aria-describedby": hintId,
  });
  // Radio buttons, not a drop-down list: all units are in sight, one tap picks one, and arrow keys work everywhere.
  const group = freshId("unit");
  const radios =
    units.length > 1
      ? units.map((name) => make("input", { type: "radio", name: group, value: name, onchange: () => edited() }))
      : [];
  const picked = () => (units.length > 1 ? (radios.find((radio) => radio.checked)?.value ?? "") : (units[0] ?? ""));
  const understood = make("p", { class: "tk-understood", role: "status", "aria-live": "polite" });
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;
  let asked = 0;
  // Where another unit was typed than the one that is chosen, the person says which is meant before it is saved.
  const clashing = make("div", { class: "tk-clash", role: "group", "aria-label": "Which unit do you mean?" });
  /** @type {Clash | null} */
  let clash = null;
  let meant = "";
  let pressed = false;

  const value = () => typed(input.value, picked());

  /**
   * Lets an answer stand in the unit that the person has chosen for it.
   * @param {Clash} found
   * @param {boolean} kept whether it is the unit that was typed
   */
  const choose = (found, kept) => {
    const given = settled(found, kept, units);
    input.value = given.text;
    for (const radio of radios) radio.checked = radio.value === given.unit;
    meant = JSON.stringify(value());
    const save = pressed;
    edited();
    readBack();
    if (save) hooks.settle();
    else input.focus();
  };

  /** @param {Clash | null} found */
  const point = (found) => {
    clash = found;
    clashing.replaceChildren(
      ...(found
        ? [
            make("p", {}, found.words),
            ...found.choices.map((words, place) =>
              make("button", { type: "button", class: "tk-plain", onclick: () => choose(found, place === 0) }, words),
            ),
          ]
        : []),
    );
  };

  /**
   * Reads the number back.
   * @param {(answered: boolean) => void} then is called with whether the kernel answered, and once more if it does so late
   */
  const readBack = (then = () => {}) => {
    clearTimeout(timer);
    const given = value();
    const turn = ++asked;
    if (halfTyped(given)) {
      point(null);
      understood.textContent = "";
      understood.dataset.ok = "";
      then(true);
      return;
    }
    hooks.post.ask(
      { type: "read", text: given.text, unit: given.unit },
      (/** @type {Extract<QuestionReply, { type: "read" | "refused" }>} */ reply) => {
        if (turn === asked) {
          const ok = reply.type === "read";
          understood.dataset.ok = String(ok);
          understood.textContent = ok ? `Understood as ${reply.text}.` : reply.text;
          point(ok && reply.clash && meant !== JSON.stringify(given) ? reply.clash : null);
        }
        then(true);
      },
      () => then(false),
    );
  };
  const edited = () => {
    clearTimeout(timer);
    understood.textContent = "";
    understood.dataset.ok = "";
    point(null);
    pressed = false;
    timer = setTimeout(readBack, 250);
    hooks.changed();
  };
  input.addEventListener("input", edited);

  const field = make(
    "div",
    { onkeydown: settleOnEnter(hooks) },
    make(
      "div",
      { class: "tk-number-row" },
      make("label", { class: "tk-field" }, make("span", {}, "Your answer"), input),
      radios.length
        ? make(
            "fieldset",
            { class: "tk-units" },
            make("legend", {}, "Unit"),
            ...units.map((name, place) =>
              make("label", { class: "tk-option tk-unit" }, radios[place], make("span", {}, name)),
            ),
          )
        : make("span", { class: "tk-only-unit" }, onlyUnit(units)),
    ),
    make("p", { class: "tk-hint", id: hintId }, nearest ? `Answer ${nearest}. A comma or a point both do.` : ""),
    understood,
  );
  return {
    node: make("div", { class: "tk-number" }, field, clashing),
    value,
    set(response) {
      input.value = response ? response.text : "";
      for (const radio of radios) radio.checked = radio.value === response?.unit;
      readBack();
    },
    // Nothing is recorded before the person could see how it was understood.
    before: (then, silent, held) =>
      readBack((answered) => {
        if (!answered) silent();
        else if (clash) {
          pressed = true;
          held(clash.words);
          clashing.querySelector("button")?.focus();
        } else then();
      }),
    focus: () => input.focus(),
    missing: "Type a number first.",
  };
}
