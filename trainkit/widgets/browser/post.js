// Letters to the kernel. Each carries a ticket; one that is not answered in time counts as lost, but a late answer
// is still good news. With a dead kernel a letter vanishes without a sound, so silence is all there is to go by.

/** @import { Letter, Model } from "./shapes.js" */

const PATIENCE = 5000;
const ONCE_MORE = 10_000;

export class Post {
  /** @param {Model} model */
  constructor(model) {
    this.model = model;
    this.prefix = Math.random().toString(36).slice(2, 8);
    this.count = 0;
    /** @type {Map<string | undefined, { onReply: (reply: any) => void, timers: ReturnType<typeof setTimeout>[] }>} */
    this.waiting = new Map();
    /** @type {(news: any) => void} is called with what the kernel says of its own accord */
    this.news = () => {};
    /** @param {Letter} reply */
    this.hear = (reply) => this.receive(reply);
    model.on("msg:custom", this.hear);
  }

  /**
   * onReply is called once, onSilence at most once, in any order. What is safe to be heard twice may be sent again for
   * as long as nobody answers: a letter is lost in a connection that broke.
   * @template {Letter} Reply
   * @param {object} message
   * @param {(reply: Reply) => void} onReply
   * @param {() => void} onSilence
   * @param {{ twice?: boolean }} [how]
   */
  ask(message, onReply, onSilence, { twice = false } = {}) {
    const ticket = `${this.prefix}-${++this.count}`;
    const timers = [setTimeout(onSilence, PATIENCE)];
    this.waiting.set(ticket, { onReply, timers });
    if (twice) timers.push(setInterval(() => this.send({ ...message, ticket }), ONCE_MORE));
    if (this.send({ ...message, ticket })) return;
    clearTimeout(timers[0]);
    timers[0] = setTimeout(onSilence, 0);
  }

  /**
   * Say something whose answer nobody waits for.
   * @param {object} message
   */
  tell(message) {
    this.send(message);
  }

  /** @param {object} message */
  send(message) {
    try {
      this.model.send(message);
      return true;
    } catch {
      return false;
    }
  }

  /** @param {Letter} reply */
  receive(reply) {
    const wait = reply && this.waiting.get(reply.ticket);
    if (!wait) {
      if (reply && reply.ticket === undefined) this.news(reply);
      return;
    }
    this.waiting.delete(reply.ticket);
    wait.timers.forEach(clearTimeout);
    wait.onReply(reply);
  }

  close() {
    this.model.off("msg:custom", this.hear);
    for (const { timers } of this.waiting.values()) timers.forEach(clearTimeout);
    this.waiting.clear();
    this.news = () => {};
  }
}
