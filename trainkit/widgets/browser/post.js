// Letters to the kernel. Each carries a ticket; one that is not answered in time counts as lost, but a late answer
// is still good news. With a dead kernel a letter vanishes without a sound, so silence is all there is to go by.

/** @import { Letter, Model } from "./shapes.js" */

const PATIENCE = 5000;

export class Post {
  /** @param {Model} model */
  constructor(model) {
    this.model = model;
    this.prefix = Math.random().toString(36).slice(2, 8);
    this.count = 0;
    /** @type {Map<string | undefined, { onReply: (reply: any) => void, timer: ReturnType<typeof setTimeout> }>} */
    this.waiting = new Map();
    /** @param {Letter} reply */
    this.hear = (reply) => this.receive(reply);
    model.on("msg:custom", this.hear);
  }

  /**
   * onReply is called once, onSilence at most once, in any order.
   * @template {Letter} Reply
   * @param {object} message
   * @param {(reply: Reply) => void} onReply
   * @param {() => void} onSilence
   */
  ask(message, onReply, onSilence) {
    const ticket = `${this.prefix}-${++this.count}`;
    const timer = setTimeout(onSilence, PATIENCE);
    this.waiting.set(ticket, { onReply, timer });
    try {
      this.model.send({ ...message, ticket });
    } catch {
      clearTimeout(timer);
      setTimeout(onSilence, 0);
    }
  }

  /** @param {Letter} reply */
  receive(reply) {
    const wait = reply && this.waiting.get(reply.ticket);
    if (!wait) return;
    clearTimeout(wait.timer);
    this.waiting.delete(reply.ticket);
    wait.onReply(reply);
  }

  close() {
    this.model.off("msg:custom", this.hear);
    for (const wait of this.waiting.values()) clearTimeout(wait.timer);
    this.waiting.clear();
  }
}
