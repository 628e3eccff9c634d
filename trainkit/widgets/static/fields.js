// Words of one's own, and rows that each go into one of several columns.

function textControl(shown, hooks) {
  const { limit } = shown.control;
  const left = make("p", { class: "tk-hint", id: freshId("left"), "aria-live": "off" });
  const area = make("textarea", {
    class: "tk-text-area",
    rows: "6",
    maxlength: String(limit),
    "aria-label": "Your answer",
    "aria-describedby": left.id,
  });
  const tell = () => {
    left.textContent = `A person reads this. ${limit - area.value.length} of ${limit} characters are left.`;
  };
  area.addEventListener("input", () => {
    tell();
    hooks.changed();
  });
  tell();
  return {
    node: make("div", { class: "tk-text-field" }, area, left),
    value: () => (area.value.trim() ? { kind: "text", text: area.value.slice(0, limit) } : null),
    set(response) {
      area.value = response ? response.text : "";
      tell();
    },
    focus: () => area.focus(),
    missing: "Write a sentence first.",
  };
}

function gridControl(shown, hooks) {
  const { rows, columns } = shown.control;
  const inputs = new Map();
  const lines = rows.map((row) => {
    const group = freshId("grid");
    const radios = columns.map((column) =>
      make("input", { type: "radio", name: group, value: column.id, onchange: () => hooks.changed() }),
    );
    inputs.set(row.id, radios);
    return make(
      "fieldset",
      { class: "tk-grid-row" },
      make("legend", {}, row.text),
      ...columns.map((column, place) =>
        make("label", { class: "tk-option" }, radios[place], make("span", {}, column.text)),
      ),
    );
  });
  const node = make("div", { class: "tk-grid" }, ...lines);
  node.addEventListener("keydown", settleOnEnter(hooks));
  const chosen = () =>
    Object.fromEntries(
      [...inputs]
        .map(([row, radios]) => [row, radios.find((radio) => radio.checked)?.value])
        .filter(([, column]) => column !== undefined),
    );
  return {
    node,
    value: () => (Object.keys(chosen()).length ? { kind: "grid", rows: chosen() } : null),
    set(response) {
      for (const [row, radios] of inputs) {
        for (const radio of radios) radio.checked = response?.rows[row] === radio.value;
      }
    },
    focus: () => inputs.get(rows[0].id)[0].focus(),
    missing: "Choose for at least one row first.",
  };
}
