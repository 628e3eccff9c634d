// What JupyterLab lends to an extension: its own modules, so that both mean the same classes and tokens.

/**
 * How JupyterLab offers them: by name and version, each as a promise of what makes it.
 * @typedef {{ get(): Promise<() => object>, loaded?: unknown }} Offer
 * @typedef {Record<string, Record<string, Offer> | undefined>} Offers
 */

/**
 * The modules that have been borrowed, by name. What is built reads them from here wherever a module of this extension
 * imports one of JupyterLab's (build.js).
 * @type {Record<string, object | undefined>}
 */
export const lent = {};

/**
 * The offer to take: what JupyterLab itself has loaded, as there must not be two of one token.
 * @param {Record<string, Offer>} versions
 */
export function taken(versions) {
  const all = Object.values(versions);
  return all.find(({ loaded }) => loaded) ?? all[0];
}

/**
 * @param {Offers} offers
 * @param {string[]} names
 */
export async function borrow(offers, names) {
  for (const name of names) {
    const offer = taken(offers[name] ?? {});
    if (!offer) throw new Error(`JupyterLab lends no ${name}.`);
    lent[name] = (await offer.get())();
  }
}
