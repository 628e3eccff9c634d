// The way to the kernel's workbook: trainkit/widgets/kernel_messages.py says which messages there are.

/** @import { Kernel } from "@jupyterlab/services" */
/** @import { Opened, State, Told } from "./shapes.js" */

const TARGET = "trainkit.workbook";
const PATIENCE = 20_000; // a slow laptop that is busy with something else
const SOON = 3000; // from a kernel that has nothing to do

/**
 * Connect; the promise gives what the kernel says first, and `told` is called with every state, the first one too.
 * @param {Kernel.IKernelConnection} kernel
 * @param {(state: State) => void} told
 */
export function connect(kernel, told) {
  const comm = kernel.createComm(TARGET);
  /** @type {Set<() => void>} */
  const looking = new Set();
  /** @type {Promise<Opened>} */
  const opened = new Promise((resolve, reject) => {
    const timer = setTimeout(() => reject(new Error("The kernel does not answer.")), PATIENCE);
    comm.onMsg = ({ content }) => {
      const data = /** @type {Told} */ (/** @type {unknown} */ (content.data));
      if (data.type === "state") {
        told(data);
        looking.forEach((seen) => seen());
      }
      if (data.type !== "opened") return;
      clearTimeout(timer);
      resolve(data);
    };
    comm.onClose = () => {
      clearTimeout(timer);
      reject(new Error("The kernel knows no workbook.")); // one that was opened by an older release
    };
  });
  comm.open();
  const close = () => {
    if (comm.isDisposed) return;
    // A kernel that is gone cannot be told.
    if (kernel.isDisposed || kernel.connectionStatus !== "connected") comm.dispose();
    else comm.close();
  };
  /**
   * Ask how it is; questions then show what was recorded elsewhere. Tells whether the kernel knows the workbook still.
   * @returns {Promise<boolean>}
   */
  const look = () =>
    new Promise((resolve) => {
      if (comm.isDisposed || kernel.isDisposed || kernel.connectionStatus !== "connected") {
        resolve(false);
        return;
      }
      /** @param {boolean} known */
      const end = (known) => {
        clearTimeout(timer);
        looking.delete(seen);
        resolve(known);
      };
      const seen = () => end(true);
      const timer = setTimeout(() => end(false), SOON);
      looking.add(seen);
      comm.send({ type: "look" });
    });
  return { opened, look, close };
}
