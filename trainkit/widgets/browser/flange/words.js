// What a part on its seal is said to do, from how it stands.

/** @import { Seating } from "./seating.js" */

/** @param {number} value */
const mm = (value) => `${value.toFixed(1)}\u2009mm`;
/** @param {number} share */
export const percent = (share) => `${Math.round(share * 100)}\u2009%`;
/** @param {string} text */
const opening = (text) => text.charAt(0).toUpperCase() + text.slice(1);

/**
 * @param {string[]} words
 * @returns {string}
 */
const joined = (words) => (words.length < 2 ? words.join("") : `${words.slice(0, -1).join(", ")} and ${words.at(-1)}`);

/**
 * @param {Seating} seating
 * @param {number[]} bolts
 */
export const named = ({ joint }, bolts) =>
  `${bolts.length === 1 ? joint.noun : joint.nouns} ${joined(bolts.map((bolt) => joint.names[bolt]))}`;

/**
 * @param {Seating} seating
 * @param {number} stage
 */
export const stageWords = ({ joint }, stage) => (stage < 0 ? "finger-tight" : joint.stages[stage].text);

/**
 * What is to be seen: how the part stands, what the seal gets, and which bolts have slackened.
 * @param {Seating} seating
 * @returns {string[]} the first sentence is the main one
 */
export function seenWords(seating) {
  const { joint, log, slackened } = seating;
  if (!log.length)
    return [
      `The part lies level on its seal, with every ${joint.noun} finger-tight.`,
      `Tighten the first ${joint.noun}.`,
    ];
  const said = [standing(seating)];
  if (seating.pinched)
    said.push("The seal is pressed flat on one side and free on the other: there it can leak or slip out.");
  if (slackened.length) said.push(slackWords(seating, slackened));
  if (!seating.finished) return said;
  if (slackened.length) return [...said, "Go round once more."];
  const shares = seating.kept(seating.last) >= 1 && seating.level ? "All are tight, and evenly." : "";
  return shares ? [...said, shares] : said;
}

/** @param {Seating} seating */
function standing(seating) {
  const { widest, narrowest } = seating;
  if (seating.level)
    return widest.gap < 0.12
      ? "The part is down on the face, level all round."
      : `The part lies level: the gap is ${mm(widest.gap)} all round.`;
  const down = seating.nearest(narrowest.place);
  const up = seating.nearest(widest.place);
  return `The part leans on ${named(seating, down)} and gapes ${mm(widest.gap)} at ${named(seating, up)}.`;
}

/**
 * @param {Seating} seating
 * @param {number[]} slackened
 */
function slackWords(seating, slackened) {
  const [worst] = slackened;
  const also = slackened.length > 1 ? `, the worst of ${slackened.length}` : "";
  const keeps = `keeps ${percent(seating.kept(worst))} of what it was given`;
  return `${opening(named(seating, [worst]))} has slackened as the part came down: it ${keeps}${also}.`;
}

/**
 * One press in words, for the list of them.
 * @param {Seating} seating
 * @param {{ bolt: number, stage: number }} press
 */
export function pressWords(seating, { bolt, stage }) {
  const { joint } = seating;
  return `${opening(joint.noun)} ${joint.names[bolt]}, ${stage < 0 ? "loosened" : joint.stages[stage].name}`;
}

/**
 * A whole try, to be compared with another one.
 * @param {Seating} seating
 */
export function tryWords(seating) {
  const { joint, log, loads, ties } = seating;
  const order = log.map(({ bolt, stage }) => (stage < 0 ? `(${joint.names[bolt]})` : joint.names[bolt])).join(", ");
  const mean = log.reduce((sum, press) => sum + press.lean, 0) / log.length;
  const least = loads.indexOf(Math.min(...ties.map((tie) => tie.force)));
  return {
    order,
    words: `${mm(mean)} of lean on average. At the end ${named(seating, [least])} pulls least, ${percent(loads[least])}.`,
  };
}

/**
 * One bolt as it stands, for its button.
 * @param {Seating} seating
 * @param {number} bolt
 */
export function boltWords(seating, bolt) {
  const { loads, stages } = seating;
  return `${stageWords(seating, stages[bolt])}, pulls ${percent(loads[bolt])}`;
}

/**
 * From which side the part is looked at.
 * @param {Seating} seating
 * @param {number} yaw
 */
export function sideWords(seating, yaw) {
  // What is nearest to the eye lies at the front, where the picture's own y is least.
  const nearest = seating.nearest([-Math.sin(yaw) * 2, -Math.cos(yaw) * 2]);
  return `Seen from the side of ${named(seating, nearest)}`;
}
