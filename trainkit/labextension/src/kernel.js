// The kernel of a workbook: whether it is there, what to do where it is not, and waiting for it, but not for ever.

/** @import { ISessionContext } from "@jupyterlab/apputils" */
/** @import { Kernel } from "@jupyterlab/services" */

const LOST = new Set(["restarting", "autorestarting", "dead", "terminating"]);
const SLOW = 8000; // a connection that broke is mostly back before this
const PATIENCE = 4000;
const STEP = 250;

/** @param {number} ms */
export const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

/** What was asked has never reached the kernel. */
export class Unheard extends Error {}

/**
 * Wait for what was asked. A kernel that has nothing to do and still owes the answer has never got the question: it
 * went into a connection that was about to close.
 * @template T
 * @param {Promise<T>} asked
 * @param {() => boolean} idle
 * @returns {Promise<T>}
 */
export async function answered(asked, idle) {
  let settled = false;
  const end = () => {
    settled = true;
  };
  asked.then(end, end);
  const given = (async () => {
    for (let waited = 0; waited < PATIENCE;) {
      await pause(STEP);
      if (settled) return asked;
      waited = idle() ? waited + STEP : 0;
    }
    throw new Unheard("The kernel has never got what it was asked.");
  })();
  return Promise.race([asked, given]);
}

/** What becomes of the kernel, told in three words. */
export class Link {
  lost = false;
  /** The kernel is another one, or one that began anew. */
  fresh = false;
  /** It has done something already. */
  begun = false;
  slow = false;
  unreachable = false;
  connectedOnce = false;
  name = "";
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  timer;

  /**
   * @param {ISessionContext} context
   * @param {{ gone(): void, back(fresh: boolean): void, show(): void }} tell
   */
  constructor(context, tell) {
    this.context = context;
    this.tell = tell;
    context.statusChanged.connect((_, status) => this.heard(status));
    context.connectionStatusChanged.connect(() => this.look());
    context.kernelChanged.connect((_, { newValue, oldValue }) => {
      if (newValue === oldValue) return; // one that only begins anew has a status
      const known = this.connectedOnce;
      this.lost = this.fresh = known && !newValue;
      if (this.lost) tell.gone();
      else if (known) tell.back(true);
      this.look();
    });
  }

  get kernel() {
    return this.context.session?.kernel ?? undefined;
  }

  get connected() {
    return this.kernel?.connectionStatus === "connected" && !this.lost;
  }

  get idle() {
    return this.connected && this.kernel?.status === "idle";
  }

  // A kernel that is still starting has lost nothing.
  get away() {
    return this.lost || (this.connectedOnce && !this.connected);
  }

  get dead() {
    return this.lost && (this.kernel?.status ?? "dead") === "dead";
  }

  /** @param {Kernel.Status} status */
  heard(status) {
    if (status === "autorestarting") dismiss();
    // A restart that nobody tells of shows as a status that is not known any more: what was asked went into the old
    // connection, and no answer comes.
    if (LOST.has(status) || (status === "unknown" && this.connectedOnce)) {
      this.fresh ||= LOST.has(status);
      this.lost = true;
      this.begun = false;
      this.tell.gone();
    } else if (status === "starting" && this.begun) {
      // Begun anew by somebody else, over the connection that there was.
      this.begun = false;
      this.tell.gone();
      this.tell.back(true);
    } else if (status === "idle" && this.lost) {
      const { fresh } = this;
      this.lost = this.fresh = false;
      this.tell.back(fresh);
    }
    if (status === "idle") this.begun = true;
    this.look();
  }

  look() {
    this.connectedOnce ||= this.connected;
    this.name = this.kernel?.name || this.name;
    if (!this.away) {
      clearTimeout(this.timer);
      this.timer = undefined;
      this.slow = this.unreachable = false;
    } else
      this.timer ??= setTimeout(() => {
        this.slow = true;
        this.tell.show();
      }, SLOW);
    this.tell.show();
  }

  /** Start the kernel again, or another one where there is none. */
  async again() {
    const { context, kernel } = this;
    this.lost = this.fresh = true;
    this.unreachable = false;
    this.tell.gone();
    this.look();
    try {
      if (kernel && kernel.status !== "dead" && !kernel.isDisposed) await context.session?.kernel?.restart();
      else await context.changeKernel({ name: this.name });
    } catch {
      this.unreachable = true; // there is no server that could
    }
    this.tell.show();
  }

  close() {
    clearTimeout(this.timer);
  }
}

// JupyterLab tells of a kernel that begins anew in a window of its own, which keeps keys from the workbook. The strip
// says the same, and what it means.
function dismiss() {
  const before = new Set(document.querySelectorAll(".jp-Dialog"));
  const watch = new MutationObserver(() => {
    const told = [...document.querySelectorAll(".jp-Dialog")].find((dialog) => !before.has(dialog));
    if (!told) return;
    watch.disconnect();
    told.querySelector(".jp-mod-accept")?.dispatchEvent(new MouseEvent("click", { bubbles: true }));
  });
  watch.observe(document.body, { childList: true });
  setTimeout(() => watch.disconnect(), 2000);
}
