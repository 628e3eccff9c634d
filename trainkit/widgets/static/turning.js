// The gear train and the clock face: turned by the crank, with the lash of every mesh. The kernel has sent ratios, lash
// and where everything stands at the start; here they are only multiplied, so that each picture is there at once.

const NEARLY = 1e-9; // of a degree: nearer than this, flanks touch
const HELD_AFTER = 280; // ms until a key that stays down goes on by itself
const STEPS_A_SECOND = { small: 60, large: 12 };
const BIG = 10; // small steps in a large one

// Whole numbers as Python rounds them: a half goes to the even one.
function nearest(value) {
  const low = Math.floor(value + NEARLY);
  return Math.abs(value - low - 0.5) < NEARLY ? low + (low % 2 ? 1 : 0) : Math.round(value);
}
function clockWords(degrees) {
  const minutes = ((nearest(degrees * 2) % 720) + 720) % 720;
  return `${Math.floor(minutes / 60) || 12}:${String(minutes % 60).padStart(2, "0")}`;
}
const angleWords = (degrees) => `${Number(Math.abs(degrees).toFixed(2))}°`;

// Every gear's angle in its own forward sense. One that is driven is never behind its driver, and never further ahead
// of it than the lash: so it stays still when the sense is reversed, until the lash is taken up.
class Turning {
  constructor(shown) {
    this.gears = shown.gears;
    [this.quantum, this.parts] = shown.quantum;
    this.size = 1; // how many times as large the lash is taken
    this.home();
  }

  home() {
    this.count = 0; // of the finest steps that the crank was turned, forward being more
    this.way = 1;
    this.at = new Map(this.gears.map((gear) => [gear.id, 0]));
    this.moved = new Map(this.gears.map((gear) => [gear.id, 0]));
  }

  get crank() {
    return (this.count * this.quantum) / this.parts;
  }

  base(gear) {
    return gear.driver ? (this.at.get(gear.driver) * gear.step[0]) / gear.step[1] : this.crank;
  }

  turn(count) {
    if (count === this.count) return false;
    this.way = Math.sign(count - this.count);
    this.count = count;
    for (const gear of this.gears) {
      const before = this.at.get(gear.id);
      const base = this.base(gear);
      const now = Math.min(Math.max(before, base), base + gear.lash * this.size);
      this.at.set(gear.id, now);
      this.moved.set(gear.id, Math.abs(now - before) < NEARLY ? 0 : Math.sign(now - before));
    }
    return true;
  }

  // Lash drawn larger or true: each mesh keeps the part of its play that is taken up.
  resize(size) {
    const shares = this.gears.map((gear) => this.share(gear));
    this.size = size;
    this.gears.forEach((gear, place) => this.at.set(gear.id, this.base(gear) + shares[place] * gear.lash * size));
  }

  // How much of the play lies behind the driving tooth: 0 while it drives forward, 1 once it drives back.
  share(gear) {
    return gear.lash ? (this.at.get(gear.id) - this.base(gear)) / (gear.lash * this.size) : 0;
  }

  left(gear) {
    const ahead = this.at.get(gear.id) - this.base(gear);
    return this.way > 0 ? ahead : gear.lash * this.size - ahead;
  }
}

function turningInstrument(shown, hooks) {
  const turning = new Turning(shown);
  const crank = shown.gears.find((gear) => gear.id === shown.turned);
  let end = shown.seen_from;
  let step = shown.steps[1];

  // Positive is clockwise as it is seen: the front is where angles are stated from.
  const facing = () => (end === "front" ? 1 : -1);
  const clockwise = (gear) => (gear.clockwise ? 1 : -1) * facing();
  const sense = (gear, way) => (way ? (way * clockwise(gear) > 0 ? "clockwise" : "anticlockwise") : "still");
  const seenWords = () => (end === "front" ? "seen from the front" : "seen from the flywheel end");

  const views = Object.fromEntries(
    Object.entries(shown.views).map(([name, svg]) => [name, viewOf(drawing(svg, "tk-picture tk-view"), shown)]),
  );
  const slider = make("div", {
    class: "tk-slider tk-turned",
    role: "slider",
    tabindex: "0",
    "aria-label": "Crank",
    "aria-valuemin": 0,
    "aria-valuemax": 720,
  });
  slider.append(...Object.values(views).map((view) => view.node));
  const said = announcer();
  const rows = new Map(shown.gears.map((gear, place) => [gear.id, rowOf(gear, place, shown)]));
  const where = make("p", { class: "tk-where" });
  const zone = make("p", { class: "tk-zone" });

  const turn = (count) => {
    if (turning.turn(count)) paint();
  };
  const by = (steps) => turn(turning.count + steps * step);
  const home = () => {
    turning.home();
    paint();
    said.say(`Back at the start. ${summary()}`);
  };
  const held = holding(by, () => said.say(summary()));

  const keys = {
    ArrowRight: [1, "small"],
    ArrowUp: [1, "small"],
    ArrowLeft: [-1, "small"],
    ArrowDown: [-1, "small"],
    PageUp: [1, "large"],
    PageDown: [-1, "large"],
  };
  slider.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Home") home();
    else if (event.key in keys) {
      if (!event.repeat) held.start(...keys[event.key]);
    } else return;
    event.preventDefault();
  });
  slider.addEventListener("keyup", (event) => event.key in keys && held.stop());
  slider.addEventListener("blur", held.stop);

  // Only what the hand takes hold of can be dragged, so that a finger elsewhere scrolls the page.
  for (const [name, view] of Object.entries(views)) {
    keepStill(view.grip);
    view.grip.addEventListener("pointerdown", (start) => {
      if (start.button !== 0) return;
      start.preventDefault();
      slider.focus({ preventScroll: true });
      view.grip.setPointerCapture(start.pointerId);
      const gear = shown.gears.find((each) => each.id === view.held);
      const rate = (gear.rate[0] / gear.rate[1]) * (gear.clockwise === (name === "front") ? 1 : -1);
      const from = turning.count;
      let last = view.angle(start);
      let turned = 0;
      const follow = (event) => {
        const now = view.angle(event);
        turned += ((now - last + 540) % 360) - 180;
        last = now;
        turn(from + Math.round(((turned / rate) * turning.parts) / turning.quantum));
      };
      const stop = () => {
        view.grip.removeEventListener("pointermove", follow);
        said.say(summary());
      };
      view.grip.addEventListener("pointermove", follow);
      view.grip.addEventListener("pointerup", stop, { once: true });
      view.grip.addEventListener("pointercancel", stop, { once: true });
    });
  }

  const back = holdButton(held, -1, "◀ Turn back");
  const forward = holdButton(held, 1, "Turn forward ▶");
  const ends = chooser("Seen from", [["front", "the front"], ["flywheel", "the flywheel end"]], end, (chosen) => {
    end = chosen;
    paint();
    said.say(`Now ${seenWords()}. ${summary()}`);
  });
  const steps = chooser(
    "One press turns the crank",
    shown.steps.map((count) => [count, angleWords((count * turning.quantum) / turning.parts)]),
    step,
    (chosen) => {
      step = chosen;
    },
  );
  const sizes = chooser(
    "Play",
    [[1, "true to size"], [shown.larger, `${shown.larger} times as large`]],
    1,
    (chosen) => {
      turning.resize(chosen);
      paint();
      said.say(summary());
    },
  );

  function stroke() {
    if (!shown.stroke) return "";
    const { cylinder, at } = shown.stroke;
    const other = at === "compression" ? "exhaust" : "compression";
    const turned = ((turning.crank % 720) + 720) % 720;
    const [name, off] = turned <= 180 ? [at, turned] : turned <= 540 ? [other, turned - 360] : [at, turned - 720];
    const centre = `top dead centre on ${name}`;
    if (Math.abs(off) < NEARLY) return ` Cylinder ${cylinder} stands at ${centre}.`;
    return ` Cylinder ${cylinder}: ${angleWords(off)} ${off < 0 ? "before" : "after"} ${centre}.`;
  }

  function whereWords() {
    const { crank: angle } = turning;
    const turned = angle === 0
      ? `The ${crank.name} stands at the start`
      : `The ${crank.name} stands ${angleWords(angle)} ${sense(crank, Math.sign(angle))} of the start`;
    return `${turned}, ${seenWords()}.${stroke()}`;
  }

  function zoneWords() {
    if (!shown.zones?.length) return "";
    const gear = shown.gears.find((each) => each.id === shown.watched);
    const period = (360 * gear.rate[1]) / gear.rate[0];
    const crankOff = (turning.at.get(gear.id) * gear.rate[1]) / gear.rate[0];
    const after = ((((crankOff + period / 2) % period) + period) % period) - period / 2;
    const found = shown.zones.findIndex((each) => after < each.to + NEARLY);
    // From where one presses to where one gives up it counts from which side one came.
    const near = found >= 2 && found <= 4;
    if (near && shown.gears.some((each) => turning.share(each) > NEARLY)) return shown.wrong;
    return shown.zones[Math.max(found, 0)].words;
  }

  function holeWords() {
    if (!shown.hole) return "";
    const every = shown.hole.every[0] / shown.hole.every[1];
    const turned = turning.at.get(shown.hole.gear);
    const off = Math.abs(turned - Math.round(turned / every) * every);
    return off <= shown.hole.near + NEARLY ? "The lock pin hole is in line with the pin." : "The lock pin hole is not in line.";
  }

  function summary() {
    const still = shown.gears.filter((gear) => gear.driver && turning.left(gear) > NEARLY && gear.lash);
    const waits = still.map((gear) => `${gear.name}: ${playWords(gear, turning)}.`).join(" ");
    return [whereWords(), holeWords(), zoneWords(), waits].filter(Boolean).join(" ");
  }

  function paint() {
    for (const [name, view] of Object.entries(views)) view.node.hidden = name !== end;
    const view = views[end];
    for (const gear of shown.gears) {
      const row = rows.get(gear.id);
      const turned = turning.at.get(gear.id) * clockwise(gear);
      view.turn(gear.id, turned);
      const going = sense(gear, turning.moved.get(gear.id));
      view.point(gear.id, going);
      put(row.sense, going === "still" ? "stands still" : `turns ${going}`);
      put(row.mark, `${gear.mark.name} at ${clockWords(gear.mark.at * facing() + turned)}`);
      put(row.angle, turned === 0 ? "at the start" : `so far ${angleWords(turned)} ${turned > 0 ? "clockwise" : "anticlockwise"}`);
      if (row.play) put(row.play, playWords(gear, turning));
      row.tooth?.setAttribute("transform", `translate(${-turning.share(gear) * row.gap} 0)`);
    }
    put(where, whereWords());
    put(zone, zoneWords() || holeWords());
    put(back.sense, sense(crank, -1));
    put(forward.sense, sense(crank, 1));
    slider.setAttribute("aria-valuenow", Number((((turning.crank % 720) + 720) % 720).toFixed(2)));
    slider.setAttribute("aria-valuetext", `${whereWords()} ${zoneWords() || holeWords()}`.trim());
    hooks.root.dataset.crank = String(Number(turning.crank.toFixed(4)));
    hooks.root.dataset.end = end;
  }
  paint();

  const node = make(
    "div",
    { class: "tk-turning" },
    slider,
    make(
      "div",
      { class: "tk-turning-side" },
      where,
      zone,
      make("div", { class: "tk-nudges" }, back.node, forward.node),
      make("button", { type: "button", class: "tk-plain tk-home", onclick: home }, "Go back to the start"),
      ends,
      steps,
      shown.larger > 1 ? sizes : "",
    ),
    make("div", { class: "tk-turning-gears" }, tableOf(rows)),
    shown.sum?.length
      ? make(
          "details",
          { class: "tk-sum" },
          make("summary", {}, "Show how the play adds up"),
          make("ul", {}, ...shown.sum.map((line) => make("li", {}, line))),
        )
      : "",
    make("p", { class: "tk-hint" }, `${shown.back} Keys: the arrows turn one step, Page up and down ten, Home goes back to the start.`),
    said.node,
  );
  return { node, focus: () => slider.focus(), close: held.stop };
}

const put = (node, text) => {
  if (node.textContent !== text) node.textContent = text;
};

function playWords(gear, turning) {
  if (!gear.driver) return "turned by you";
  if (!gear.known) return "play not given";
  if (!gear.lash) return "no play";
  const left = turning.left(gear);
  return left < NEARLY ? "play taken up" : `${left.toFixed(2)}° of play left`;
}

// A finger on what can be dragged does not scroll the page. In SVG the style touch-action alone does not hold it.
function keepStill(node, where = () => true) {
  node.addEventListener("touchstart", (event) => where(event.target) && event.preventDefault(), { passive: false });
}

// A picture of the kernel's, and its moving parts.
function viewOf(node, shown) {
  const parts = new Map();
  for (const part of node.querySelectorAll("[data-turns]")) {
    parts.set(part.dataset.turns, { part, middle: part.dataset.middle });
  }
  const arrows = new Map();
  for (const arrow of node.querySelectorAll("[data-arrow]")) {
    const gear = arrow.closest("[data-target]").dataset.target;
    arrows.set(gear, [...(arrows.get(gear) ?? []), arrow]);
  }
  const held = shown.watched ?? shown.turned;
  const grip = node.querySelector(`[data-target="${CSS.escape(held)}"]`);
  grip.classList.add("tk-grip-to-turn");
  return {
    node,
    held,
    grip,
    turn: (gear, degrees) => {
      const found = parts.get(gear);
      found?.part.setAttribute("transform", `rotate(${degrees} ${found.middle})`);
    },
    point: (gear, sense) => {
      for (const arrow of arrows.get(gear) ?? []) arrow.setAttribute("visibility", arrow.dataset.arrow === sense ? "visible" : "hidden");
    },
    // Degrees clockwise from twelve, as the pointer stands to the middle of what is held.
    angle: (event) => {
      const svg = node.querySelector("svg");
      const box = svg.getBoundingClientRect();
      const scale = box.width / svg.viewBox.baseVal.width;
      const [x, y] = parts.get(held).middle.split(" ").map(Number);
      return (Math.atan2(event.clientX - box.left - x * scale, box.top + y * scale - event.clientY) * 180) / Math.PI;
    },
  };
}

function rowOf(gear, place, shown) {
  const part = (kind) => make("span", { class: kind });
  const row = { sense: part("tk-now"), angle: part("tk-angle"), mark: part("tk-mark-at") };
  const play = make("span", {});
  const teeth = gear.teeth ? `${gear.teeth} teeth` : "no teeth";
  const flank = gear.flank ? drawing(gear.flank, "tk-flank") : "";
  const numbered = shown.kind === "gears" && gear.teeth ? `${place + 1} ` : "";
  row.node = make(
    "tr",
    { "data-gear": gear.id },
    make("th", { scope: "row" }, `${numbered}${gear.name}`, make("span", { class: "tk-teeth" }, teeth)),
    make("td", {}, row.sense, row.angle),
    make("td", {}, row.mark),
    make("td", { class: "tk-play" }, flank, play),
  );
  row.play = play;
  row.tooth = flank ? flank.querySelector("[data-slides]") : null;
  row.gap = Number(row.tooth?.dataset.slides ?? 0);
  return row;
}

function tableOf(rows) {
  const heads = ["Gear", "Turns", "Mark", "Play, forward to the right"].map((word) => make("th", { scope: "col" }, word));
  return make(
    "table",
    { class: "tk-turning-table" },
    make("caption", { class: "tk-unseen" }, "What each gear does"),
    make("thead", {}, make("tr", {}, ...heads)),
    make("tbody", {}, ...[...rows.values()].map((row) => row.node)),
  );
}

// A few choices of which one holds, as radio buttons a finger high.
function chooser(legend, choices, chosen, choose) {
  const name = freshId("choose");
  return make(
    "fieldset",
    { class: "tk-chooser" },
    make("legend", {}, legend),
    ...choices.map(([value, words]) =>
      make(
        "label",
        { class: "tk-option" },
        make("input", { type: "radio", name, checked: value === chosen, value: String(value), onchange: () => choose(value) }),
        make("span", {}, words),
      ),
    ),
  );
}

// A key or a button that stays down goes on, picture by picture, as fast as time passes.
function holding(by, done) {
  let frame = 0;
  let timer = 0;
  let going = false;
  const stop = () => {
    if (!going) return;
    going = false;
    clearTimeout(timer);
    cancelAnimationFrame(frame);
    done();
  };
  const start = (way, kind) => {
    stop();
    going = true;
    const size = kind === "large" ? BIG : 1;
    by(way * size);
    timer = setTimeout(() => {
      let last = performance.now();
      const next = (now) => {
        const steps = Math.floor(((now - last) / 1000) * STEPS_A_SECOND[kind]);
        if (steps > 0) {
          last += (steps * 1000) / STEPS_A_SECOND[kind];
          by(way * size * steps);
        }
        frame = requestAnimationFrame(next);
      };
      frame = requestAnimationFrame(next);
    }, HELD_AFTER);
  };
  return { start, stop };
}

function holdButton(held, way, verb) {
  const sense = make("span", { class: "tk-sense" });
  const button = make("button", { type: "button", class: "tk-nudge", "data-way": way }, verb, " ", sense);
  button.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    button.setPointerCapture(event.pointerId);
    held.start(way, "small");
  });
  for (const name of ["pointerup", "pointercancel", "blur"]) button.addEventListener(name, held.stop);
  // By keyboard or by a screen reader there is a click without a pointer.
  button.addEventListener("click", (event) => {
    if (event.detail !== 0) return;
    held.start(way, "small");
    held.stop();
  });
  return { node: button, sense };
}
