// One option out of several, or several of them: the browser's own buttons, each row a target for a finger.

import { freshId, make, settleOnEnter } from "./page.js";

/** @import { Control, Hooks, Question } from "./shapes.js" */
/** @typedef {{ kind: "choice", option: string }} ChoiceResponse */
/** @typedef {{ kind: "several", options: string[] }} SeveralResponse */

/**
 * @param {Question<"choice">} shown
 * @param {Hooks} hooks
 * @returns {Control<ChoiceResponse>}
 */
export function choiceControl(shown, hooks) {
  const { checked, check, ...rest } = options(shown, hooks, false);
  return {
    ...rest,
    value() {
      const [option] = checked();
      return option === undefined ? null : { kind: "choice", option };
    },
    set: (response) => check(response ? [response.option] : []),
  };
}

/**
 * @param {Question<"several">} shown
 * @param {Hooks} hooks
 * @returns {Control<SeveralResponse>}
 */
export function severalControl(shown, hooks) {
  const { checked, check, ...rest } = options(shown, hooks, true);
  return {
    ...rest,
    value: () => ({ kind: "several", options: checked() }),
    set: (response) => check(response?.options ?? []),
  };
}

/**
 * @param {Question<"choice" | "several">} shown
 * @param {Hooks} hooks
 * @param {boolean} several
 */
function options(shown, hooks, several) {
  const group = freshId("choice");
  const type = several ? "checkbox" : "radio";
  const inputs = shown.control.options.map((option) =>
    make("input", { type, name: group, value: option.id, onchange: () => hooks.changed() }),
  );
  const node = make(
    "fieldset",
    { class: "tk-choice" },
    make("legend", { class: "tk-unseen" }, several ? "Choose all that belong" : "Choose one"),
    ...shown.control.options.map((option, place) =>
      make("label", { class: "tk-option" }, inputs[place], make("span", {}, option.text)),
    ),
  );
  node.addEventListener("keydown", settleOnEnter(hooks));
  return {
    node,
    checked: () => inputs.filter((input) => input.checked).map((input) => input.value),
    /** @param {string[]} chosen */
    check(chosen) {
      for (const input of inputs) input.checked = chosen.includes(input.value);
    },
    focus: () => (inputs.find((input) => input.checked) ?? inputs[0]).focus(),
    missing: "Choose one first.",
  };
}
