import assert from "node:assert/strict";
import { mock, test } from "node:test";
import { drafts } from "../../trainkit/widgets/browser/drafts.js";
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
});

test("a draft is kept until it is dropped, also where storage is switched off", () => {
  drafts.write("A1", { response: { kind: "text", text: "so far" } });
  assert.deepEqual(drafts.read("A1"), { response: { kind: "text", text: "so far" } });
  drafts.drop("A1");
  assert.equal(drafts.read("A1"), null);
  drafts.write("", { response: null });
  assert.equal(drafts.read(""), null); // practice keeps none
});
