// A card that is missing from a written order: radio buttons stand in the gaps between the written cards.

function insertControl(shown, hooks) {
  const { written, missing } = shown.control;
  const group = freshId("insert");
  const last = written.length;
  const words = (place) =>
    place === 0
      ? `Before “${written[0].text}”`
      : place === last
        ? `After “${written[last - 1].text}”`
        : `Between “${written[place - 1].text}” and “${written[place].text}”`;
  const gaps = Array.from({ length: last + 1 }, (_, place) =>
    make("input", {
      type: "radio",
      name: group,
      value: String(place),
      "aria-label": words(place),
      onchange: () => {
        mark();
        hooks.changed();
      },
    }),
  );
  const notes = gaps.map(() => make("span", {}, "here"));
  const mark = () => {
    for (const [place, note] of notes.entries()) note.textContent = gaps[place].checked ? missing.text : "here";
  };
  const gap = (place) =>
    make("label", { class: "tk-option tk-gap" }, gaps[place], notes[place]);
  const node = make(
    "fieldset",
    { class: "tk-insert" },
    make("legend", {}, "Where does this step go: ", make("strong", {}, missing.text)),
    gap(0),
    ...written.flatMap((card, place) => [
      make("p", { class: "tk-written" }, make("span", { class: "tk-place" }, `${place + 1}`), make("span", {}, card.text)),
      gap(place + 1),
    ]),
  );
  node.addEventListener("keydown", settleOnEnter(hooks));
  return {
    node,
    value: () => {
      const chosen = gaps.find((input) => input.checked);
      return chosen ? { kind: "insert", place: Number(chosen.value) } : null;
    },
    set(response) {
      for (const [place, input] of gaps.entries()) input.checked = Boolean(response) && response.place === place;
      mark();
    },
    focus: () => (gaps.find((input) => input.checked) ?? gaps[0]).focus(),
    missing: "Choose a place first.",
  };
}
