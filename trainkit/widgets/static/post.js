// Letters to the kernel. Each carries a ticket; one that is not answered in time counts as lost, but a late answer
// is still good news. With a dead kernel a letter vanishes without a sound, so silence is all there is to go by.
const PATIENCE = 5000;

class Post {
  constructor(model) {
    this.model = model;
    this.prefix = Math.random().toString(36).slice(2, 8);
    this.count = 0;
    this.waiting = new Map();
    this.hear = (reply) => this.receive(reply);
    model.on("msg:custom", this.hear);
  }

  // onReply is called once, onSilence at most once, in any order.
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

// Answers that are not on the disk yet, kept for this tab until they are. They are stored under a name that tells
// neither question nor person, and are gone when the tab is closed.
const MEMORY = Symbol.for("trainkit.drafts");
const drafts = {
  read(key) {
    if (!key) return null;
    try {
      return JSON.parse(sessionStorage.getItem(`trainkit:${key}`)) ?? window[MEMORY]?.[key] ?? null;
    } catch {
      return window[MEMORY]?.[key] ?? null;
    }
  },
  write(key, draft) {
    if (!key) return;
    (window[MEMORY] ??= {})[key] = draft; // where storage is switched off, memory has to do
    try {
      sessionStorage.setItem(`trainkit:${key}`, JSON.stringify(draft));
    } catch {
      /* kept in memory */
    }
  },
  drop(key) {
    if (!key) return;
    if (window[MEMORY]) delete window[MEMORY][key];
    try {
      sessionStorage.removeItem(`trainkit:${key}`);
    } catch {
      /* nothing was stored */
    }
  },
};
