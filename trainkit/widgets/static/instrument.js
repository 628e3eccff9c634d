// The frame round an instrument: what one does with it, the instrument, and that nothing is asked.

const INSTRUMENTS = {
  gears: turningInstrument,
  clock: turningInstrument,
  wrench: leverInstrument,
  bolts: circleInstrument,
};

function renderInstrument({ model, el }) {
  installGuard();
  const shown = model.get("shown");
  const root = make("section", { class: "tk-question tk-instrument", tabindex: "-1" });
  const title = freshId("title");
  root.setAttribute("aria-labelledby", title);
  root.dataset.kind = shown.kind;
  root.dataset.mode = shown.mode;
  root.dataset.name = shown.name;
  el.replaceChildren(root);
  const post = new Post(model);
  const alarm = make("p", { class: "tk-alarm", role: "alert" });
  const made = INSTRUMENTS[shown.kind](shown, { root, post, alarm });
  root.replaceChildren(
    make(
      "div",
      { class: "tk-head" },
      make("p", { class: "tk-title", id: title, role: "heading", "aria-level": "3" }, shown.heading),
      make("p", { class: "tk-points" }, shown.unscored),
    ),
    ...shown.lead.map((text) => make("p", { class: "tk-prompt" }, text)),
    made.node,
    alarm,
  );
  return () => {
    made.close?.();
    post.close();
  };
}

export default { initialize: installGuard, render: renderInstrument };
