// The way to the kernel's workbook: trainkit/widgets/telling.py says which messages there are.

/** @import { Kernel } from "@jupyterlab/services" */
/** @import { Opened, State, Told } from "./shapes.js" */

const TARGET = "trainkit.workbook";
const PATIENCE = 20_000; // a slow laptop that is busy with something else

/**
 * Connect; the promise gives what the kernel says first, and `told` is called with every state, the first one too.
 * @param {Kernel.IKernelConnection} kernel
 * @param {(state: State) => void} told
 */
export function connect(kernel, told) {
  const comm = kernel.createComm(TARGET);
  /** @type {Promise<Opened>} */
  const opened = new Promise((resolve, reject) => {
    const timer = setTimeout(() => reject(new Error("The kernel does not answer.")), PATIENCE);
    comm.onMsg = ({ content }) => {
      const data = /** @type {Told} */ (/** @type {unknown} */ (content.data));
      if (data.type === "state") told(data);
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
  return { opened, close };
}
