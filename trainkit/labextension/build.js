// Builds all that a browser gets, from the modules that are its source. What is built is committed, so that whoever
// installs trainkit needs no node, and it comes out the same wherever the checkout lies.
//
//   npm run build              build everything, and note which source it was built from
//   node build.js --check      only tell whether the committed files are what is built, here and in another folder

import { createHash } from "node:crypto";
import {
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  readdirSync,
  rmSync,
  statSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const ROOT = join(dirname(fileURLToPath(import.meta.url)), "..", "..");
const HERE = "trainkit/labextension";
// A folder of its own: JupyterLab searches everything beside an extension that it is told of.
const EXTENSION = `${HERE}/built/trainkit-workbooks`;
const NOTE = `${HERE}/built-from.json`;
const SOURCES = [
  ...["package.json", "package-lock.json", "build.js", "src", "style"].map((name) => `${HERE}/${name}`),
  "trainkit/widgets/browser",
  "grading/trainkit_grading/signoff/browser",
  "grading/trainkit_grading/reports/coordinator/browser",
];
// Instruments have a module of their own, so that no question carries them.
/** @type {Record<string, [entry: string, format: "esm" | "iife"]>} */
const BUNDLES = {
  "trainkit/widgets/static/question.js": ["trainkit/widgets/browser/question.js", "esm"],
  "trainkit/widgets/static/instrument.js": ["trainkit/widgets/browser/instrument.js", "esm"],
  "grading/trainkit_grading/signoff/static/sheet.js": ["grading/trainkit_grading/signoff/browser/sheet.js", "esm"],
  // It travels within a page, as a plain script.
  "grading/trainkit_grading/reports/coordinator/static/coordinator.js": [
    "grading/trainkit_grading/reports/coordinator/browser/coordinator.js",
    "iife",
  ],
};

/** @typedef {Map<string, string>} Files by their paths from the top of the checkout, with `/` */

/**
 * What JupyterLab lends instead of what lies in node_modules; see src/container.js.
 * @type {import("esbuild").Plugin}
 */
const lent = {
  name: "lent by JupyterLab",
  setup(building) {
    building.onResolve({ filter: /^@(jupyterlab|lumino)\// }, ({ path }) => ({ path, namespace: "lent" }));
    building.onLoad({ filter: /.*/, namespace: "lent" }, ({ path }) => ({
      contents: `module.exports = require("./lent.js").lent[${JSON.stringify(path)}];`,
      resolveDir: join(building.initialOptions.absWorkingDir ?? "", HERE, "src"),
    }));
  },
};

/**
 * @param {string} root
 * @param {string} entry
 * @param {import("esbuild").BuildOptions} options
 */
async function bundle(root, entry, options) {
  const { outputFiles } = await build({
    absWorkingDir: root,
    entryPoints: [entry],
    bundle: true,
    write: false,
    minify: true,
    charset: "utf8",
    target: "es2022",
    legalComments: "none",
    tsconfigRaw: {}, // whatever lies round a checkout says nothing here
    ...options,
  });
  return /** @type {import("esbuild").OutputFile[]} */ (outputFiles)[0].text;
}

/** @param {unknown} value */
const json = (value) => `${JSON.stringify(value, null, 2)}\n`;
/** @param {string} text */
const sha256 = (text) => createHash("sha256").update(text).digest("hex");

/**
 * @param {string} root
 * @returns {Promise<Files>}
 */
async function extension(root) {
  const text = await bundle(root, `${HERE}/src/container.js`, {
    format: "iife",
    loader: { ".css": "text" },
    plugins: [lent],
  });
  // Another name with each change: a browser may keep a file of the same name for long.
  const load = `static/remoteEntry.${sha256(text).slice(0, 16)}.js`;
  const { name, version, description, license, dependencies } = JSON.parse(
    readFileSync(join(root, HERE, "package.json"), "utf8"),
  );
  const described = { name, version, description, license, dependencies };
  const how = { packageManager: "python", packageName: name, uninstallInstructions: `pip uninstall ${name}` };
  return new Map([
    [`${EXTENSION}/${load}`, text],
    [
      `${EXTENSION}/package.json`,
      json({ ...described, jupyterlab: { extension: true, _build: { load, extension: "./extension" } } }),
    ],
    [`${EXTENSION}/install.json`, json(how)],
  ]);
}

/**
 * All that is built from the source of a checkout.
 * @param {string} root
 * @returns {Promise<Files>}
 */
async function built(root) {
  const bundles = Object.entries(BUNDLES).map(
    async ([path, [entry, format]]) => /** @type {const} */ ([path, await bundle(root, entry, { format })]),
  );
  return new Map([...(await Promise.all(bundles)), ...(await extension(root))]);
}

/**
 * Read files, whichever way their lines end.
 * @param {string} root
 * @param {string[]} paths
 * @returns {Files}
 */
const read = (root, paths) =>
  new Map(paths.map((path) => [path, readFileSync(join(root, path), "utf8").replaceAll("\r\n", "\n")]));

/**
 * The files in these places.
 * @param {string} root
 * @param {string[]} places
 * @returns {string[]}
 */
const found = (root, places) =>
  places.flatMap((place) => {
    if (!existsSync(join(root, place))) return [];
    if (!statSync(join(root, place)).isDirectory()) return [place];
    return found(
      root,
      readdirSync(join(root, place)).map((name) => `${place}/${name}`),
    );
  });

/** @param {Files} files */
const digests = (files) =>
  Object.fromEntries(
    [...files].sort(([one], [other]) => (one < other ? -1 : 1)).map(([path, text]) => [path, sha256(text)]),
  );

/** @param {Files} files */
const noted = (files) => json({ format: 1, source: digests(read(ROOT, found(ROOT, SOURCES))), built: digests(files) });

/** @param {Files} files */
function write(files) {
  rmSync(join(ROOT, EXTENSION), { recursive: true, force: true });
  for (const [path, text] of [...files, [NOTE, noted(files)]]) {
    mkdirSync(dirname(join(ROOT, path)), { recursive: true });
    writeFileSync(join(ROOT, path), text);
  }
}

/** Build in a folder elsewhere, under another name and at another depth. */
async function builtElsewhere() {
  const other = mkdtempSync(join(tmpdir(), "built elsewhere "));
  try {
    const root = join(other, "a", "copy");
    for (const place of SOURCES) cpSync(join(ROOT, place), join(root, place), { recursive: true });
    return await built(root);
  } finally {
    rmSync(other, { recursive: true, force: true });
  }
}

/**
 * Which files are others than these.
 * @param {Files} files
 * @param {Files} others
 */
const differing = (files, others) =>
  [...new Set([...files.keys(), ...others.keys()])].filter((path) => files.get(path) !== others.get(path));

async function check() {
  const files = await built(ROOT);
  const committed = read(ROOT, found(ROOT, [...Object.keys(BUNDLES), EXTENSION, NOTE]));
  const stale = differing(new Map([...files, [NOTE, noted(files)]]), committed);
  const unlike = differing(files, await builtElsewhere());
  for (const path of stale) console.error(`${path} is not what is built from the source. Run: npm run build`);
  for (const path of unlike) console.error(`${path} comes out otherwise in another folder.`);
  if (stale.length || unlike.length) process.exit(1);
  console.log(`${files.size} built files are the same as committed, and the same in another folder.`);
}

if (process.argv.includes("--check")) await check();
else write(await built(ROOT));
