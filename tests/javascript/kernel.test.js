import assert from "node:assert/strict";
import { mock, test } from "node:test";
import { Link, Unheard, answered } from "../../trainkit/labextension/src/kernel.js";
import { standing } from "../../trainkit/labextension/src/standing.js";

/** @import { Now } from "../../trainkit/labextension/src/standing.js" */

/** @type {Now} */
const FINE = {
  ...{ away: false, dead: false, slow: false, stuck: false, ready: true, done: 11, total: 11 },
  ...{ assessed: true, answered: 11, unsaved: [], saving: [], unheard: false },
};
/** @param {Partial<Now>} changes */
const said = (changes) => standing({ ...FINE, ...changes });

test("a kernel that is away is no alarm where everything is on the disk", () => {
  for (const ready of [true, false]) {
    const { status, word, detail, again } = said({ away: true, ready });
    assert.deepEqual([status, word, detail, again], ["waiting", "Reconnecting;", "11 answers are safe", false]);
  }
  assert.equal(said({ away: true, answered: 1 }).detail, "1 answer is safe");
  assert.equal(said({ away: true, answered: 0 }).detail, "");
  assert.equal(said({ away: true, slow: true }).again, true);
});

test("what is not on the disk is named, and a kernel that stays away can be started again", () => {
  const open = said({ away: true, unsaved: ["A3"], saving: ["A4"] });
  assert.deepEqual([open.status, open.detail], ["failed", "11 answers are safe; not saved yet: A3, A4"]);
  const dead = said({ away: true, dead: true });
  assert.deepEqual(
    [dead.status, dead.word, dead.detail, dead.again],
    ["failed", "Stopped;", "11 answers are safe", true],
  );
  assert.equal(said({ stuck: true }).again, true);
  assert.equal(said({ unsaved: ["A1"] }).again, false);
  assert.equal(said({ unsaved: ["A1"], unheard: true }).again, true);
  assert.equal(said({ assessed: false, unheard: true }).again, true);
});

test("connected, it says how far it is: getting ready, saving, saved", () => {
  assert.deepEqual(said({ ready: false, done: 3 }).detail, "3 of 11");
  assert.equal(said({ saving: ["A2"] }).status, "saving");
  assert.equal(said({}).status, "saved");
  assert.equal(said({ answered: 0 }).status, "none");
  assert.equal(said({ answered: 0, assessed: false }).status, "practice");
});

test("an answer is waited for as long as the kernel works, and not from one that has nothing to do", async () => {
  mock.timers.enable({ apis: ["setTimeout"] });
  let idle = false;
  /** @type {string[]} */
  const got = [];
  const note = (/** @type {string} */ word) => () => void got.push(word);
  /** @param {number} ms */
  const pass = async (ms) => {
    for (let step = 0; step < ms; step += 250) {
      mock.timers.tick(250);
      await Promise.resolve().then(() => {});
      await new Promise((resolve) => setImmediate(resolve));
    }
  };
  /** @type {() => void} */
  let arrive = () => {};
  const late = new Promise((resolve) => (arrive = () => resolve("late")));
  void answered(late, () => idle).then(note("late"));
  void answered(new Promise(() => {}), () => idle).catch((error) => got.push(String(error instanceof Unheard)));
  void answered(Promise.reject(new Error("its own")), () => idle).catch((error) => got.push(error.message));
  await pass(60_000);
  assert.deepEqual(got, ["its own"]);
  arrive();
  await pass(250);
  assert.deepEqual(got, ["its own", "late"]);
  idle = true;
  await pass(3750);
  idle = false; // it was only between two things
  await pass(250);
  idle = true;
  await pass(3750);
  assert.deepEqual(got, ["its own", "late"]);
  await pass(250);
  assert.deepEqual(got, ["its own", "late", "true"]);
  mock.timers.reset();
});

/** A signal as JupyterLab has them. */
function signal() {
  /** @type {((context: any, value: any) => void)[]} */
  const heard = [];
  return {
    connect: (/** @type {(context: any, value: any) => void} */ hear) => heard.push(hear),
    /** @param {any} [value] */
    emit: (value) => heard.forEach((hear) => hear(null, value)),
  };
}

/** A session whose kernel is what the test says it is, and what the link tells of it. */
function linked() {
  /** @type {string[]} */
  const told = [];
  const kernel = {
    status: "idle",
    connectionStatus: "connected",
    name: "python3",
    isDisposed: false,
    restart: async () => {},
  };
  const context = {
    ...{ statusChanged: signal(), connectionStatusChanged: signal(), kernelChanged: signal() },
    session: /** @type {{ kernel: typeof kernel } | null} */ ({ kernel }),
    changeKernel: async (/** @type {{ name: string }} */ { name }) => void told.push(`starts ${name}`),
  };
  const link = new Link(/** @type {any} */ (context), {
    gone: () => told.push("gone"),
    back: (fresh) => told.push(fresh ? "back, anew" : "back"),
    show: () => {},
  });
  /** @param {string[]} statuses */
  const goes = (...statuses) => {
    for (const status of statuses) {
      kernel.status = status;
      context.statusChanged.emit(status);
    }
    return told.splice(0).join("; ");
  };
  return { context, kernel, link, told, goes };
}

test("a link knows a restart from a connection that was broken, and the first start from both", () => {
  const { goes, link } = linked();
  assert.equal(goes("unknown", "starting", "idle"), "", "it has not been there yet");
  assert.equal(goes("busy", "idle"), "");
  assert.equal(goes("unknown", "idle"), "gone; back");
  assert.equal(goes("restarting", "unknown", "idle"), "gone; gone; back, anew", "restarted");
  assert.equal(goes("busy", "idle", "starting"), "gone; back, anew", "begun anew by somebody else");
  assert.equal(goes("idle", "dead"), "gone");
  assert.deepEqual([link.away, link.dead], [true, true]);
  link.close();
});

test("a kernel that is still starting has lost nothing", () => {
  const { context, kernel, link, goes } = linked();
  kernel.connectionStatus = "connecting";
  const first = new Link(/** @type {any} */ (context), { gone() {}, back() {}, show() {} });
  first.look();
  assert.equal(first.away, false);
  kernel.connectionStatus = "connected";
  assert.equal(goes("starting", "idle"), "");
  for (const each of [first, link]) each.close();
});

test("it is started again where it is, where it is dead, where it is gone, and not where nobody can", async () => {
  const { context, kernel, link, told, goes } = linked();
  goes("idle");
  let begun = 0;
  kernel.restart = async () => void (begun += 1);
  await link.again();
  assert.deepEqual([begun, link.away, told.splice(0)], [1, true, ["gone"]]);
  assert.equal(goes("idle"), "back, anew");
  goes("dead");
  await link.again();
  assert.deepEqual(told.splice(0), ["gone", "starts python3"]);
  const other = { ...kernel, status: "starting" };
  context.session = null;
  context.kernelChanged.emit({ oldValue: kernel, newValue: null });
  assert.deepEqual([link.dead, told.splice(0)], [true, ["gone"]]);
  context.session = { kernel: other };
  context.kernelChanged.emit({ oldValue: null, newValue: other });
  assert.deepEqual([link.away, told.splice(0)], [false, ["back, anew"]]);
  other.restart = () => Promise.reject(new Error("There is no server."));
  await link.again();
  assert.equal(link.unreachable, true);
  link.close();
});
