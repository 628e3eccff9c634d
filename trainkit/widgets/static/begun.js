// What stands between the question and its control: a working that is begun, and how to use a control.

function showBegun(frame, begun) {
  const painted = frame.begun.childElementCount > 0;
  const hint =
    frame.begun.querySelector("button") ??
    make(
      "button",
      { type: "button", class: "tk-plain tk-hint-button", onclick: () => uncover(frame, hint) },
      begun.hint,
    );
  // Never disabled: a button that vanishes under the finger takes the keyboard's focus with it.
  hint.setAttribute("aria-disabled", String(!begun.more));
  if (painted) {
    const [lines, rest, note] = [".tk-working", ".tk-rest", ".tk-note-line"].map((part) => frame.begun.querySelector(part));
    // Added, not painted anew: a live list says only what is new.
    for (const line of begun.lines.slice(lines.children.length)) lines.append(make("li", {}, line));
    if (rest.textContent !== begun.rest) rest.textContent = begun.rest;
    if (note && note.textContent !== begun.note) note.textContent = begun.note;
    return;
  }
  frame.begun.append(
    make("p", { class: "tk-working-title" }, begun.title),
    make("ol", { class: "tk-working", "aria-live": "polite" }, ...begun.lines.map((line) => make("li", {}, line))),
    make("p", { class: "tk-rest" }, begun.rest),
    begun.hint
      ? make(
          "div",
          { class: "tk-foot" },
          hint,
          make("p", { class: "tk-note-line", role: "status", "aria-live": "polite" }, begun.note),
        )
      : "",
  );
}

function uncover(frame, hint) {
  if (hint.getAttribute("aria-disabled") === "true") return;
  frame.post.ask(
    { type: "hint" },
    (reply) => (reply.begun ? showBegun(frame, reply.begun) : frame.fail(reply.text)),
    () => frame.fail(LOST.replace("Your answer is kept here, and is saved as soon as it does. ", "")),
  );
}

// By mouse, by finger, by keyboard: one line each.
function howTo(how) {
  return make(
    "dl",
    { class: "tk-how" },
    ...how.map((way) => make("div", {}, make("dt", {}, way.by), make("dd", {}, way.do))),
  );
}
