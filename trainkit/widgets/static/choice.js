// One option out of several, or several of them: the browser's own buttons, each row a target for a finger.

const choiceControl = (shown, hooks) => optionsControl(shown, hooks, false);
const severalControl = (shown, hooks) => optionsControl(shown, hooks, true);

function optionsControl(shown, hooks, several) {
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
  const taken = (response) => new Set(!response ? [] : several ? response.options : [response.option]);
  return {
    node,
    value: () => {
      const chosen = inputs.filter((input) => input.checked).map((input) => input.value);
      if (several) return { kind: "several", options: chosen };
      return chosen.length ? { kind: "choice", option: chosen[0] } : null;
    },
    set(response) {
      for (const input of inputs) input.checked = taken(response).has(input.value);
    },
    focus: () => (inputs.find((input) => input.checked) ?? inputs[0]).focus(),
    missing: "Choose one first.",
  };
}
