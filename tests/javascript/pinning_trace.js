// Plays what it reads from its input and prints where everything stands after each move; test_pinning.py compares.

import { readFileSync } from "node:fs";

import { Pinning } from "../../trainkit/widgets/browser/pin/pinning.js";

const { lattice, start, moves } = JSON.parse(readFileSync(0, "utf-8"));
const pinning = new Pinning(lattice, start);
const trace = moves.map((/** @type {[what: string, by: number]} */ [what, by]) => {
  if (what === "bar") pinning.barTo(pinning.at.crank + by);
  else if (what === "press") pinning.press();
  else if (what === "let go") pinning.letGo();
  else pinning.draw();
  return { ...pinning.at, load: pinning.load, mark: pinning.mark };
});
console.log(JSON.stringify(trace));
