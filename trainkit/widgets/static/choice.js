// One option out of several: the browser's own radio buttons, each row a target for a finger.

function choiceControl(shown, hooks) {
  const group = freshId("choice");
  const inputs = shown.control.options.map((option) =>
    make("input", { type: "radio", name: group, value: option.id, onchange: () => hooks.changed() }),
  );
  const node = make(
    "fieldset",
    { class: "tk-choice" },
    make("legend", { class: "tk-unseen" }, "Choose one"),
    ...shown.control.options.map((option, place) =>
      make("label", { class: "tk-option" }, inputs[place], make("span", {}, option.text)),
    ),
  );
  node.addEventListener("keydown", (event) => {
    if (event.key === "Enter") {
      event.preventDefault();
      hooks.settle();
    }
  });
  return {
    node,
    value: () => {
      const chosen = inputs.find((input) => input.checked);
      return chosen ? { kind: "choice", option: chosen.value } : null;
    },
    set(response) {
      for (const input of inputs) input.checked = Boolean(response) && input.value === response.option;
    },
    focus: () => (inputs.find((input) => input.checked) ?? inputs[0]).focus(),
    missing: "Choose one first.",
  };
}
