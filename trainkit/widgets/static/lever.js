// The torque wrench with its adapter: moved here, reckoned and drawn by the kernel. While something is dragged only the
// newest place is asked for, so that the picture keeps up; numbers stand still until the kernel has said the next ones.

function leverInstrument(shown, hooks) {
  let lever = shown.lever;
  let wanted = null; // what was moved since the kernel was asked last
  let asked = false;
  let speak = false;
  const sliders = new Map(shown.sliders.map((slider) => [slider.id, measure(slider, shown.start[slider.id], move)]));
  const picture = make("div", { class: "tk-lever-view" });
  const set = make("p", { class: "tk-readout" });
  const limits = make("div", { class: "tk-limits" });
  const lines = make("ul", { class: "tk-lever-lines" });
  const said = announcer();

  function move(changed, aloud = false) {
    wanted = { ...wanted, ...changed };
    speak ||= aloud;
    for (const [id, slider] of sliders) if (id in wanted) slider.show(wanted[id]);
    ask();
  }

  function ask() {
    if (asked || !wanted) return;
    const message = { type: "put", ...wanted };
    wanted = null;
    send(message);
  }

  function send(message) {
    asked = true;
    hooks.post.ask(
      message,
      (reply) => {
        asked = false;
        hooks.alarm.textContent = reply.type === "refused" ? reply.text : "";
        if (reply.lever) lever = reply.lever;
        if (!wanted) paint();
        else picture.innerHTML = lever.figure;
        ask();
      },
      () => {
        asked = false;
        hooks.alarm.textContent = SILENT;
      },
    );
  }

  function paint() {
    picture.innerHTML = lever.figure; // drawn by trainkit.figures, which escapes every word in it
    put(set, lever.set);
    limits.replaceChildren(...lever.limits.map((text) => make("p", {}, text)));
    lines.replaceChildren(...lever.lines.map((text) => make("li", {}, text)));
    for (const [id, slider] of sliders) slider.show(lever[id]);
    hooks.root.dataset.set = lever.set;
    if (!speak || wanted) return;
    speak = false;
    said.say([`${lever.set}.`, ...lever.limits].join(" "));
  }

  keepStill(picture, (target) => target instanceof Element && target.closest("[data-drag]"));
  picture.addEventListener("pointerdown", (start) => {
    const part = start.target instanceof Element && start.target.closest("[data-drag]")?.dataset.drag;
    if (start.button !== 0 || !part) return;
    start.preventDefault();
    picture.setPointerCapture(start.pointerId); // on what stays: the picture is drawn anew on the way
    sliders.get(part === "grip" ? "length" : "adapter").focus();
    const follow = (event) => move(placeOf(picture, part, event, shown.sliders));
    const stop = () => {
      picture.removeEventListener("pointermove", follow);
      move({}, true);
    };
    picture.addEventListener("pointermove", follow);
    picture.addEventListener("pointerup", stop, { once: true });
    picture.addEventListener("pointercancel", stop, { once: true });
  });

  const wrenches = chooser("Wrench", shown.wrenches.map((each) => [each.id, each.text]), lever.wrench, (id) => {
    move({ wrench: id, length: shown.wrenches.find((each) => each.id === id).length }, true);
  });
  const jobs = chooser("Wanted at the bolt", shown.jobs.map((each) => [each.id, each.text]), lever.job, (id) =>
    move({ job: id }, true),
  );
  const again = make(
    "button",
    {
      type: "button",
      class: "tk-plain",
      onclick: () => {
        wanted = null;
        speak = true;
        send({ type: "again" });
        for (const [group, id] of [[wrenches, shown.start.wrench], [jobs, shown.start.job]])
          for (const input of group.querySelectorAll("input")) input.checked = input.value === id;
      },
    },
    "Go back to the start",
  );
  paint();
  const node = make(
    "div",
    { class: "tk-lever" },
    picture,
    make("div", { class: "tk-lever-said" }, set, limits, lines),
    make("div", { class: "tk-lever-sliders" }, ...[...sliders.values()].map((slider) => slider.node)),
    make("div", { class: "tk-lever-choices" }, jobs, shown.wrenches.length > 1 ? wrenches : "", again),
    make("p", { class: "tk-hint" }, "Keys on a slider: the arrows move one step, Page up and down ten, Home goes back to the start."),
    said.node,
  );
  return { node, focus: () => sliders.get("length").focus() };
}

const SILENT = "The notebook does not answer. If it stays so: menu Kernel, “Restart Kernel and Run All Cells…”.";

const within = ({ low, high, step }, value) =>
  Number(Math.max(low, Math.min(high, low + Math.round((value - low) / step) * step)).toFixed(4));

// Where a pointer is, in millimetres and degrees.
function placeOf(picture, part, event, ranges) {
  const svg = picture.querySelector("svg");
  const { drive, scale } = picture.querySelector("[data-drive]").dataset;
  const box = svg.getBoundingClientRect();
  const zoom = box.width / svg.viewBox.baseVal.width;
  const [x, y] = drive.split(" ").map(Number);
  const right = ((event.clientX - box.left) / zoom - x) / scale;
  const up = (y - (event.clientY - box.top) / zoom) / scale;
  const range = (id) => ranges.find((each) => each.id === id);
  if (part === "grip") return { length: within(range("length"), -right) };
  const angle = up > 0 ? (Math.atan2(up, right) * 180) / Math.PI : right < 0 ? 180 : 0;
  return {
    adapter: within(range("adapter"), Math.hypot(right, Math.max(up, 0))),
    angle: within(range("angle"), angle),
  };
}

// A length or an angle: a straight slider, with a button at each end.
function measure({ id, name, unit, low, high, step }, start, move) {
  let value = low;
  const gap = unit === "°" ? "" : "\u2009";
  const words = () => `${Number(value.toFixed(2))}${gap}${unit}`;
  const to = (wanted, aloud) => move({ [id]: Math.max(low, Math.min(high, wanted)) }, aloud);
  const track = make("div", { class: "tk-track", "aria-hidden": "true" }, make("div", { class: "tk-knob" }));
  const knob = track.firstElementChild;
  const slider = make("div", {
    class: "tk-slider tk-measure",
    role: "slider",
    tabindex: "0",
    "aria-label": name,
    "aria-valuemin": low,
    "aria-valuemax": high,
    "data-measure": id,
  }, track);
  const keys = {
    ArrowRight: () => value + step,
    ArrowUp: () => value + step,
    ArrowLeft: () => value - step,
    ArrowDown: () => value - step,
    PageUp: () => value + 10 * step,
    PageDown: () => value - 10 * step,
    Home: () => start,
  };
  slider.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !(event.key in keys)) return;
    event.preventDefault();
    to(keys[event.key](), true);
  });
  slider.addEventListener("pointerdown", (start) => {
    if (start.button !== 0) return;
    start.preventDefault();
    slider.focus();
    slider.setPointerCapture(start.pointerId);
    const follow = (event) => {
      const box = track.getBoundingClientRect();
      to(within({ low, high, step }, low + ((event.clientX - box.left) / box.width) * (high - low)));
    };
    follow(start);
    const stop = () => {
      slider.removeEventListener("pointermove", follow);
      move({}, true);
    };
    slider.addEventListener("pointermove", follow);
    slider.addEventListener("pointerup", stop, { once: true });
    slider.addEventListener("pointercancel", stop, { once: true });
  });
  const shown = make("span", { class: "tk-measured" });
  const nudge = (sign, verb) =>
    make(
      "button",
      {
        type: "button",
        class: "tk-nudge",
        "aria-label": `${verb} by ${step}${gap}${unit}: ${name}`,
        onclick: () => to(value + (sign === "+" ? step : -step), true),
      },
      `${sign}\u2009${step}${gap}${unit}`,
    );
  return {
    node: make(
      "div",
      { class: "tk-measure-row" },
      make("p", {}, name, " ", shown),
      make("div", { class: "tk-measure-line" }, nudge("−", "Less"), slider, nudge("+", "More")),
    ),
    focus: () => slider.focus({ preventScroll: true }),
    show(now) {
      value = now;
      put(shown, words());
      slider.setAttribute("aria-valuenow", value);
      slider.setAttribute("aria-valuetext", words());
      knob.style.left = `${((value - low) / (high - low)) * 100}%`;
    },
  };
}
