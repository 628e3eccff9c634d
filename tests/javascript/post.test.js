import assert from "node:assert/strict";
import { mock, test } from "node:test";
import { Drafts } from "../../trainkit/widgets/browser/drafts.js";
import { Post } from "../../trainkit/widgets/browser/post.js";

/** @import { Letter } from "../../trainkit/widgets/browser/shapes.js" */

const never = () => assert.fail();

/** A kernel that keeps what it was sent, and answers when it is told to. */
function kernel() {
  /** @type {Letter[]} */
  const sent = [];
  /** @type {Set<(reply: Letter) => void>} */
  const heard = new Set();
  return {
    sent,
    heard,
    get: () => undefined,
    /** @param {object} message */
    send: (message) => void sent.push(/** @type {Letter} */ (message)),
    /** @type {(name: string, hear: (reply: Letter) => void) => void} */
    on: (_, hear) => void heard.add(hear),
    /** @type {(name: string, hear: (reply: Letter) => void) => void} */
    off: (_, hear) => void heard.delete(hear),
    /** @param {Letter} reply */
    answer: (reply) => heard.forEach((hear) => hear(reply)),
  };
}

test("an answer comes to whoever asked, once", () => {
  const far = kernel();
  const post = new Post(far);
  /** @type {string[]} */
  const got = [];
  post.ask({ type: "read" }, () => got.push("first"), never);
  post.ask({ type: "save" }, () => got.push("second"), never);
  const [first, second] = far.sent;
  assert.notEqual(first.ticket, second.ticket);
  far.answer({ type: "saved", ticket: second.ticket });
  far.answer({ type: "saved", ticket: second.ticket });
  far.answer({ type: "read", ticket: "of another control" });
  far.answer({ type: "read", ticket: first.ticket });
  assert.deepEqual(got, ["second", "first"]);
  post.close();
});

test("silence is told after five seconds, and a late answer is still heard", () => {
  mock.timers.enable({ apis: ["setTimeout"] });
  const far = kernel();
  const post = new Post(far);
  /** @type {string[]} */
  const got = [];
  post.ask(
    { type: "save" },
    () => got.push("answered"),
    () => got.push("silent"),
  );
  mock.timers.tick(4999);
  assert.deepEqual(got, []);
  mock.timers.tick(1);
  far.answer({ type: "saved", ticket: far.sent[0].ticket });
  assert.deepEqual(got, ["silent", "answered"]);
  post.close();
  mock.timers.reset();
});

test("a letter that cannot be sent is silence", () => {
  mock.timers.enable({ apis: ["setTimeout"] });
  const gone = {
    ...kernel(),
    send() {
      throw new Error("The way to the kernel is closed.");
    },
  };
  let silent = 0;
  new Post(gone).ask({ type: "save" }, never, () => (silent += 1));
  mock.timers.tick(5000);
  assert.equal(silent, 1);
  mock.timers.reset();
});

test("who has closed the post hears nothing more", () => {
  const far = kernel();
  const post = new Post(far);
  post.ask({ type: "save" }, never, never);
  post.close();
  far.answer({ type: "saved", ticket: far.sent[0].ticket });
  assert.equal(far.heard.size, 0, "nothing is left that listens");
});

test("a letter that may be heard twice is sent again under its ticket until it is answered, and no longer", () => {
  mock.timers.enable({ apis: ["setTimeout", "setInterval"] });
  const far = kernel();
  const post = new Post(far);
  /** @type {string[]} */
  const got = [];
  const how = { twice: true };
  const saved = () => got.push("saved");
  const silent = () => got.push("silent");
  post.ask({ type: "save" }, saved, silent, how);
  post.ask({ type: "next" }, never, () => {});
  mock.timers.tick(30_000);
  const saves = () => far.sent.filter(({ type }) => type === "save");
  assert.equal(saves().length, 4);
  assert.equal(new Set(saves().map(({ ticket }) => ticket)).size, 1);
  far.answer({ type: "saved", ticket: saves()[0].ticket });
  far.answer({ type: "saved", ticket: saves()[0].ticket });
  mock.timers.tick(30_000);
  assert.equal(saves().length, 4);
  assert.deepEqual(got, ["silent", "saved"]);
  post.ask({ type: "save" }, never, () => {}, how);
  post.close();
  mock.timers.tick(30_000);
  assert.equal(saves().length, 5, "a closed post sends nothing");
  assert.equal(far.sent.filter(({ type }) => type === "next").length, 1);
  mock.timers.reset();
});

test("what the kernel says of its own accord is heard until the post is closed", () => {
  const far = kernel();
  const post = new Post(far);
  /** @type {string[]} */
  const news = [];
  post.news = ({ type }) => news.push(type);
  far.answer({ type: "elsewhere" });
  far.answer({ type: "saved", ticket: "of another control" });
  assert.deepEqual(news, ["elsewhere"]);
  post.close();
  far.answer({ type: "elsewhere" });
  assert.deepEqual(news, ["elsewhere"]);
});

/** @param {string} text */
const typed = (text) => ({
  response: /** @type {import("../../trainkit/widgets/browser/shapes.js").Response} */ ({ kind: "text", text }),
  pressed: false,
  base: 0,
});

test("the page holds a draft at once, and the folder gets what stands after a while", () => {
  mock.timers.enable({ apis: ["setTimeout"] });
  const far = kernel();
  const drafts = new Drafts(new Post(far), "a1");
  for (const text of ["s", "so", "so far"]) drafts.write(typed(text));
  assert.deepEqual(drafts.read(), typed("so far"));
  assert.deepEqual(far.sent, []);
  mock.timers.tick(400);
  assert.deepEqual(far.sent, [{ type: "draft", response: typed("so far").response, base: 0 }]);
  // The kernel is gone and the cell is run again: the page has it still. Another question has another.
  assert.deepEqual(new Drafts(new Post(kernel()), "a1").read(), typed("so far"));
  assert.equal(new Drafts(new Post(kernel()), "a2").read(), null);
  drafts.drop();
  drafts.drop();
  assert.deepEqual(far.sent.slice(1), [{ type: "draft", response: null }]);
  assert.equal(drafts.read(), null);
  // Recorded before the folder was told: there is nothing to tell any more.
  drafts.write(typed("once more"));
  drafts.forget();
  mock.timers.tick(1000);
  assert.equal(far.sent.length, 2);
  mock.timers.reset();
});

test("a draft in the folder is taken up, and practice keeps none", () => {
  const far = kernel();
  const drafts = new Drafts(new Post(far), "a3", typed("of yesterday"));
  assert.deepEqual(drafts.read(), typed("of yesterday"));
  drafts.drop();
  assert.deepEqual(far.sent, [{ type: "draft", response: null }]);
  const none = new Drafts(new Post(far), "");
  none.write(typed("practice"));
  none.flush();
  none.drop();
  assert.equal(none.read(), null);
  assert.equal(far.sent.length, 1);
});
