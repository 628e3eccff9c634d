// A place on the picture: pressed on the picture itself, or chosen from the list of the same places beside it. The two
// are one group of radio buttons, so keyboard and screen reader have all that mouse and finger have.

const FINGER = 44; // pixels on the screen

function pointControl(shown, hooks) {
  const group = freshId("point");
  const picture = drawing(shown.control.figure, "tk-picture tk-point-view");
  const said = announcer();
  const inputs = shown.control.targets.map((target) =>
    make("input", { type: "radio", name: group, value: target.id, onchange: () => changed() }),
  );
  const places = new Map();
  for (const place of picture.querySelectorAll("[data-target]")) {
    const input = inputs.find((each) => each.value === place.dataset.target);
    if (!input) continue;
    places.set(place, input);
    place.classList.add("tk-place-to-press");
    place.addEventListener("click", () => {
      input.checked = true;
      input.focus();
      said.say(`${nameOf(input)} is chosen.`);
      changed();
    });
  }
  const nameOf = (input) => shown.control.targets.find((target) => target.id === input.value).text;
  const observer = new ResizeObserver(() => roomForFingers(picture, [...places.keys()]));
  observer.observe(picture);
  hooks.signal.addEventListener("abort", () => observer.disconnect());
  const mark = () => {
    for (const [place, input] of places) place.classList.toggle("tk-chosen", input.checked);
  };
  const changed = () => {
    mark();
    hooks.changed();
  };
  const node = make(
    "fieldset",
    { class: "tk-choice tk-point" },
    make("legend", { class: "tk-unseen" }, "Choose a place"),
    picture,
    make(
      "div",
      { class: "tk-point-list" },
      make(
        "p",
        { class: "tk-hint" },
        places.size ? "Press the place on the picture, or choose it here." : "Choose the place here.",
      ),
      ...shown.control.targets.map((target, place) =>
        make("label", { class: "tk-option" }, inputs[place], make("span", {}, target.text)),
      ),
    ),
    said.node,
  );
  node.addEventListener("keydown", settleOnEnter(hooks));
  return {
    node,
    value: () => {
      const chosen = inputs.find((input) => input.checked);
      return chosen ? { kind: "point", target: chosen.value } : null;
    },
    set(response) {
      for (const input of inputs) input.checked = Boolean(response) && input.value === response.target;
      mark();
    },
    focus: () => (inputs.find((input) => input.checked) ?? inputs[0]).focus(),
    missing: "Choose a place first.",
  };
}

// Gives every small place an unseen rim to press on, a finger wide where its neighbours leave room for it.
function roomForFingers(picture, places) {
  const sheet = picture.querySelector("svg");
  const scale = sheet ? sheet.getBoundingClientRect().width / sheet.viewBox.baseVal.width : 0;
  if (!scale) return;
  const discs = places.map((place) => {
    const { x, y, width, height } = (place.querySelector(".solid, .filled") ?? place).getBBox();
    return { place, x: x + width / 2, y: y + height / 2, r: Math.max(width, height) / 2 };
  });
  for (const disc of discs) {
    const nearest = Math.min(
      ...discs.filter((other) => other !== disc).map((other) => Math.hypot(other.x - disc.x, other.y - disc.y)),
    );
    const r = Math.min(FINGER / 2 / scale, nearest / 2);
    disc.place.querySelector(".tk-rim-to-press")?.remove();
    if (r > disc.r) disc.place.prepend(shape("circle", { cx: disc.x, cy: disc.y, r, class: "tk-rim-to-press" }));
  }
}
