// A document alone on the screen: what stands beside its way up to the shell is hidden.
//
// Nothing is taken away, and no layout or setting remembers it, so the full JupyterLab is as it was.

import { MessageLoop } from "@lumino/messaging";

/** @import { Message } from "@lumino/messaging" */
/** @import { Widget } from "@lumino/widgets" */

/** @param {Message} message */
const childOf = (message) => /** @type {Message & { child?: Widget }} */ (message).child;

/**
 * Hide it all, keep hidden what shows itself later, and return what hides once more.
 * @param {Widget} panel
 * @param {Widget} shell
 */
export function standAlone(panel, shell) {
  /** @type {Set<Widget>} */
  const watched = new Set();
  const hide = () => {
    // What is beside the document itself is the dock's own, which shows one document alone already.
    for (let widget = panel.parent; widget && widget !== shell; widget = widget.parent) {
      const { parent } = widget;
      const layout = parent?.layout;
      if (!parent || !layout) break;
      const way = widget;
      for (const other of layout) if (other !== way && !other.isHidden) other.hide();
      if (watched.has(parent)) continue;
      watched.add(parent);
      MessageLoop.installMessageHook(parent, (_, message) => {
        const child = childOf(message);
        if (!child || child === way || panel.isDisposed) return true;
        if (message.type === "child-shown") child.hide();
        if (message.type === "child-added") requestAnimationFrame(hide);
        return true;
      });
    }
  };
  hide();
  return hide;
}
