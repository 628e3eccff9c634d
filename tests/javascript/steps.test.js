// The steps of a workbook, the names in addresses, and where somebody is.

import assert from "node:assert/strict";
import { test } from "node:test";
import { Place, fileBeside, kept } from "../../trainkit/labextension/src/place.js";
import { howFar, inAddress, partsOf, slug, stepNamed, stepsOf } from "../../trainkit/labextension/src/steps.js";

/** @import { Piece } from "../../trainkit/labextension/src/steps.js" */

/** @param {string} source */
const text = (source) => ({ text: true, source });
/** @param {string} source */
const code = (source) => ({ text: false, source });
/** @param {string} name */
const ask = (name) => ({ text: false, source: `book.ask("${name}")`, question: name });
const LONG = "A sentence that says something of use. ".repeat(20);

/** @type {Piece[]} */
const BOOK = [
  text(`# Lock pin\n\n${LONG}`),
  code('from trainkit import workbook\nbook = workbook.open("lock-pin")'),
  code("book.cautions()"),
  text("## Where the **teeth** rest\n\nShort."),
  code("figures.Picture(pack)"),
  text("Still the same part."),
  text("### Try it\n\nTurn."),
  code('book.instrument("gears")'),
  text("## Practice\n\nTake as many as you like."),
  text("### Say it\n\nCount."),
  code('book.practice("say")'),
  text("### Do it\n\nAct."),
  code('book.practice("do")'),
  text("## Words\n\nOpen the list."),
  code("book.words()"),
  text("## Assessment\n\nTwo questions."),
  ask("A1"),
  ask("A2"),
  text("## Hand in\n\nSee."),
  code("book.finish()"),
];

test("a title begins a part, and each question is one of its own", () => {
  const parts = partsOf(BOOK);
  assert.deepEqual(
    parts.map(({ id }) => id),
    [
      ...["lock-pin", "where-the-teeth-rest", "try-it", "practice", "say-it", "do-it", "words"],
      ...["assessment", "question-a1", "question-a2", "hand-in"],
    ],
  );
  assert.equal(parts[1].title, "Where the teeth rest");
  assert.deepEqual([parts[1].from, parts[1].to], [3, 6]);
  assert.deepEqual(
    parts.filter(({ practice }) => practice).map(({ id }) => id),
    ["say-it", "do-it"],
  );
});

test("every cell is in one step, in order", () => {
  const steps = stepsOf(BOOK);
  assert.equal(steps[0].from, 0);
  assert.equal(steps[steps.length - 1].to, BOOK.length);
  for (const [place, step] of steps.slice(1).entries()) assert.equal(step.from, steps[place].to);
});

test("the head of a chapter goes with its first part, what is short goes with what stands before", () => {
  assert.deepEqual(
    stepsOf(BOOK).map(({ id, parts }) => [id, ...parts.map((part) => part.id)]),
    [
      ["lock-pin", "lock-pin"],
      ["where-the-teeth-rest", "where-the-teeth-rest"],
      ["try-it", "try-it"],
      ["say-it", "practice", "say-it"],
      ["do-it", "do-it", "words"],
      ["question-a1", "assessment", "question-a1"],
      ["question-a2", "question-a2"],
      ["hand-in", "hand-in"],
    ],
  );
});

test("nothing is joined to a question of the assessment", () => {
  const steps = stepsOf([ask("A1"), text("## Afterwards\n\nShort."), text(`## Last\n\n${LONG}`)]);
  assert.deepEqual(
    steps.map(({ id }) => id),
    ["question-a1", "afterwards", "last"],
  );
});

test("a workbook of a few lines, or without any title, is one step", () => {
  assert.deepEqual(
    stepsOf([text("# Title"), text("## One"), text("## Two")]).map(({ id, to }) => [id, to]),
    [["title", 3]],
  );
  assert.deepEqual(
    stepsOf([code("print()")]).map(({ id, title }) => [id, title]),
    [["start", "Start"]],
  );
});

test("two parts of one title have two names, and each leads to its step", () => {
  const steps = stepsOf([text(`## Try it\n${LONG}`), text(`## Try it\n${LONG}`), text("### More\nShort.")]);
  assert.deepEqual(
    steps.map(({ id }) => id),
    ["try-it", "try-it-2"],
  );
  assert.equal(stepNamed(steps, "more"), steps[1]);
  assert.equal(stepNamed(steps, "nowhere"), undefined);
  assert.equal(stepNamed(steps, undefined), undefined);
});

test("names are fit for an address", () => {
  assert.equal(slug("Zoë’s gear: 1/2 turn?"), "zoe-s-gear-1-2-turn");
  assert.equal(slug("???"), "step");
  assert.equal(inAddress("#step=question-a3"), "question-a3");
  for (const hash of ["", "#step=", "#step=<b>", "#step=a b", "#other"]) assert.equal(inAddress(hash), undefined);
});

test("how far a step is", () => {
  const steps = stepsOf(BOOK);
  const far = {
    answered: new Set(["A1", "A2"]),
    unsaved: new Set(["A2"]),
    read: new Set(["lock-pin", "do-it"]),
    practised: new Set(["say-it"]),
  };
  assert.deepEqual(
    steps.map((step) => howFar(step, far)),
    // Leafing through practice is no practice.
    ["read", "open", "open", "practised", "open", "answered", "unsaved", "open"],
  );
});

test("what came with the page is read whatever it is", () => {
  assert.deepEqual(kept('{"step":"a","read":["b"],"practised":[]}'), { step: "a", read: ["b"], practised: [] });
  for (const broken of ["", "{", "null", '{"read":1}']) assert.deepEqual(kept(broken), kept(""));
});

test("the place lies beside the notebook, also of one in a folder", () => {
  assert.equal(fileBeside("renamed.ipynb", "lock-pin"), "lock-pin.place.json");
  assert.equal(fileBeside("a folder/b/x.ipynb", "lock-pin"), "a folder/b/lock-pin.place.json");
});

test("several changes are one file, the same again is none, and a refusal is tried again", async () => {
  /** @type {string[]} */
  const saved = [];
  let refuse = false;
  const contents = {
    /** @param {string} path @param {{ content?: string }} [options] */
    save: async (path, options) => {
      if (refuse) throw new Error("read-only");
      saved.push(`${path} ${options?.content}`);
      return /** @type {never} */ (undefined);
    },
  };
  const place = new Place(/** @type {never} */ (contents), () => "x.place.json");
  const at = { step: "a", read: [], practised: [] };
  place.keep({ ...at, step: "before" });
  place.keep(at);
  await new Promise((done) => setTimeout(done, 500));
  assert.deepEqual(saved, ['x.place.json {"format":1,"step":"a","read":[],"practised":[]}\n']);
  await place.written();
  assert.equal(saved.length, 1);
  refuse = true;
  place.keep({ ...at, step: "b" });
  await place.written();
  refuse = false;
  await place.written();
  assert.equal(saved.length, 2);
  place.keep({ ...at, step: "c" });
  await place.written(); // before the page is left
  assert.equal(saved.length, 3);
});
