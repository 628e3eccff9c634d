// A little of the page: elements made of text, never of markup.

function make(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === undefined || value === null) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...children.filter((child) => child !== null && child !== undefined && child !== "").flatMap(kept));
  return node;
}

// A line never ends between a number and its unit, which a thin space joins.
function kept(child) {
  if (typeof child !== "string" || !child.includes("\u2009")) return [child];
  return child.split(/(\S+\u2009\S+)/).map((part) => {
    if (!part.includes("\u2009")) return part;
    const whole = document.createElement("span");
    whole.className = "tk-whole";
    whole.textContent = part;
    return whole;
  });
}

let serial = 0;
// Each control on a page carries its own copy of this code: a number alone would name the radio buttons of two
// questions alike, and join them to one group.
const copyOfPage = Math.random().toString(36).slice(2, 10);
const freshId = (what) => `tk-${what}-${copyOfPage}-${++serial}`;

const SVG = "http://www.w3.org/2000/svg";
function shape(tag, attributes, text = "") {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  node.textContent = text;
  return node;
}

// The kernel's own picture: drawn by trainkit.figures, which escapes every word in it.
function drawing(svg, kind = "tk-picture") {
  const holder = make("div", { class: kind });
  holder.innerHTML = svg;
  return holder;
}

// Says something to screen readers without showing it. A text said twice is said again.
function announcer() {
  const node = make("p", { class: "tk-unseen", "aria-live": "polite", role: "status" });
  const say = (text) => {
    node.textContent = node.textContent === text ? `${text}\u00a0` : text;
  };
  return { node, say };
}

// Enter in a group of buttons saves, as it does in any form; the arrows and the space bar choose.
const settleOnEnter = (hooks) => (event) => {
  if (event.key !== "Enter" || event.isComposing) return;
  event.preventDefault();
  hooks.settle();
};

const same = (one, other) => JSON.stringify(sorted(one)) === JSON.stringify(sorted(other));
const sorted = (value) =>
  value && typeof value === "object" && !Array.isArray(value)
    ? Object.fromEntries(Object.keys(value).sort().map((key) => [key, sorted(value[key])]))
    : value;

function clockTime(iso) {
  const when = new Date(iso);
  const hours = when.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  const today = new Date().toDateString() === when.toDateString();
  return today ? hours : `${when.toLocaleDateString("en-GB", { day: "numeric", month: "short" })}, ${hours}`;
}
