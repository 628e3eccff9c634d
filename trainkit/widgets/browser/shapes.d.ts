// What kernel and browser say to each other, as `trainkit/widgets/state.py` and its neighbours write and read it.

export interface Named {
  id: string;
  text: string;
}

export type Kind = import("./controls.js").Kind;
export type Response = import("./controls.js").Responses[Kind];

export interface Scale {
  low: number;
  high: number;
  step: number;
  unit: string;
  round: boolean;
}

export interface Saved {
  response: Response;
  at: string;
  n: number;
}

/** An answer that is not saved yet. */
export interface Draft {
  response: Response;
  /** The button that saves was pressed; a draft that comes from the folder does not know. */
  pressed?: boolean;
  base: number;
}

export interface Explained {
  verdict: string;
  word: string;
  reason: string;
  critical: boolean;
  note: string;
  title: string;
  from: number;
  working: string[];
  /** The answer that was given and the right one, in words and in the picture; left out where there is nothing to say. */
  yours?: string;
  right?: string[];
  figure?: string;
}

/** A working that is begun for whoever completes it. */
export interface Begun {
  title: string;
  lines: string[];
  rest: string;
  hint: string;
  more: boolean;
  note: string;
}

export interface BenchLine {
  action: string;
  seen: string;
  why?: string;
}
/** What the eye sees at a bench; the keys are those of the drawing `pin-bench`. */
export interface BenchSeen {
  name: string;
  seen_from: End;
  tooth: string;
  marks: DialMark[];
  forward: "clockwise" | "anticlockwise";
  turned: "forward" | "back" | "";
  bar: "fitted" | "off";
  pin: "out" | "pressed" | "in" | "broken";
}
export interface Play {
  figure: string;
  seen: BenchSeen;
  /** What is behind the wall, in crank degrees; an assessment is not told. */
  behind?: import("./pin/paint.js").Cut;
  /** After a wreck in practice: what is said first, the button for it, what is said then, the button that begins again. */
  wreck?: string[];
  log: BenchLine[];
  can: string[];
  over: boolean;
  ending: string;
  count: number;
  limit: number;
}
/** What one action would lead to: the play as it would be, and the one line that it adds. */
export type PlayAhead = Omit<Play, "log" | "limit"> & { line: BenchLine };

export interface Question<K extends Kind = Kind> {
  kind: K;
  mode: "assess" | "practise" | "complete" | "warm";
  name: string;
  heading: string;
  points: string;
  buttons: [string, string];
  pace?: string;
  /** What the button says that shows the answer. */
  show?: string;
  prompt: string[];
  given: { label: string; value: string }[];
  figure: string;
  how?: { by: string; do: string }[];
  begun?: Begun;
  control: import("./controls.js").Needs[K];
  play: Play | null;
  saved: Saved | null;
  draft: string;
  kept?: Draft | null;
  explained?: Explained | null;
  tally?: string;
}

export interface HandIn {
  kind: "finish";
  heading: string;
  lines: string[];
}
export interface Card {
  kind: "card";
  heading: string;
  html: string;
  page: string;
}

export type Refused = { type: "refused"; text: string };
/** What a bench says after each action; in an assessment with what was saved, in practice with what it shows. */
export type Played = {
  type: "played";
  play: Play;
  saved?: Saved | null;
  explained?: Explained | null;
  tally?: string;
  /** The action was not done: the scenario had gone on in another window. */
  elsewhere?: boolean;
};
/** What is recorded of a question that was answered in another window. */
export type Elsewhere = { type: "elsewhere"; saved: Saved | null; play?: Play };
export type QuestionReply =
  | (Refused & { play?: undefined })
  | { type: "read"; text: string; clash?: import("./typed.js").Clash }
  | { type: "saved"; saved: Saved }
  | Elsewhere
  | { type: "explained"; explained: Explained; tally: string; begun?: Begun }
  | { type: "next"; shown: Question }
  | { type: "hint"; begun: Begun };
export type BenchReply = (Refused & { play?: undefined }) | Played;
export type AheadReply = Refused | { type: "ahead"; so_far: number; plays: Record<string, PlayAhead> };
export type HandInReply =
  | (Refused & { shown?: undefined })
  | { type: "looked" | "unsure"; shown: HandIn }
  | { type: "packed"; shown: HandIn; file: string; data: string };

/** What a control asks of the frame round it. */
export interface Hooks {
  post: import("./post.js").Post;
  root: HTMLElement;
  signal: AbortSignal;
  /** The answer is another one now. */
  changed(): void;
  /** The answer is to be saved. */
  settle(): void;
  playing(): void;
  played(reply: BenchReply): void;
  silent(): void;
}

/** What a control is to the frame round it. */
export interface Control<R extends Response = Response> {
  node: HTMLElement;
  value(): R | null;
  set(response: R | null): void;
  focus(): void;
  /** What is said where nothing can be saved yet. */
  missing: string;
  /** What has to be settled before the answer is sent. */
  before?(then: () => void, silent: () => void, held: (words: string) => void): void;
  /** Each action is sent by itself. */
  bench?: boolean;
  /** Show what was done at the bench in another window. */
  play?(play: Play): void;
}

/** The side of anywidget that the controls use. */
export interface Model {
  get(name: string): unknown;
  send(message: object): void;
  on(name: "msg:custom", hear: (message: Letter) => void): void;
  off(name: "msg:custom", hear: (message: Letter) => void): void;
}
export type Letter = { ticket?: string; type: string };

export interface Gear {
  id: string;
  name: string;
  teeth: number | null;
  clockwise: boolean;
  /** Turns of this gear for one of the crank, as a fraction. */
  rate: [number, number];
  /** Turns of this gear for one of its driver, as a fraction. */
  step: [number, number];
  driver: string | null;
  lash: number;
  known: boolean;
  flank: string;
  mark: { name: string; at: number };
  /** What joins it with its driver. */
  kind: "" | "external" | "internal" | "chain" | "belt" | "shaft";
}
/** Where a gear sits, to the right and up as seen from the front, in the unit of the layout. */
export interface Place {
  x: number;
  y: number;
  radius: number;
  /** How near to the reader its plane is, 0 the farthest. */
  level: number;
  /** Whether its teeth are inside. */
  inside: boolean;
  /** Where its number stands, and where the leader to it begins if it is not on the gear. */
  number: { at: [number, number]; leader: [number, number] | null };
}
export type End = "front" | "flywheel";
export interface Train {
  kind: "gears" | "clock";
  turned: string;
  watched?: string;
  seen_from: End;
  /** Drawn by the kernel: both ends of a face; of a train the one that is printed. */
  views: Partial<Record<End, string>>;
  gears: Gear[];
  quantum: [number, number];
  steps: number[];
  larger: number;
  stroke: { cylinder: number; at: "compression" | "exhaust" } | null;
  hole: { gear: string; every: [number, number]; near: number } | null;
  back: string;
  /** How the gears sit, for a picture that is drawn in the browser. */
  layout?: {
    places: Record<string, Place>;
    /** The gear with the witness tooth, where the pack has one. */
    watched: string | null;
    /** The gear whose mark is read like a clock, or that turns with what bears it. */
    hours: string;
    /** The gear with the lock pin's hole. */
    pin: string | null;
  };
  zones?: { to: number; words: string }[];
  wrong?: string;
  sum?: string[];
}

export interface Lever {
  figure: string;
  wrench: string;
  job: string;
  length: number;
  adapter: number;
  angle: number;
  set: string;
  lines: string[];
  limits: string[];
}
export type Measured = "length" | "adapter" | "angle";
export interface Range {
  id: Measured;
  name: string;
  unit: string;
  low: number;
  high: number;
  step: number;
}
export interface LeverShown {
  kind: "wrench";
  wrenches: (Named & { length: number })[];
  jobs: Named[];
  sliders: Range[];
  start: Record<Measured, number> & { wrench: string; job: string };
  lever: Lever;
}
export type LeverReply = (Refused & { lever?: undefined }) | { type: "put"; lever: Lever };

/** A joint on its seal; see trainkit/tightening/seating.py for what its numbers mean. */
export interface JointOnSeal {
  id: string;
  text: string;
  noun: string;
  nouns: string;
  names: string[];
  bolts: [x: number, y: number][];
  outline: [x: number, y: number][];
  disc: boolean;
  every: number;
  seal_at: number[];
  stops_at: number[];
  free: number;
  hand: number;
  stiffness: { seal: number; stop: number; bolt: number };
  stages: { name: string; text: string; share: number }[];
  watch: { text: string; order: number[] }[];
}
export interface FlangeShown {
  kind: "bolts";
  joints: JointOnSeal[];
  joint: string;
  how: string;
}
export type FlangeReply = (Refused & { words?: undefined }) | { type: "told"; words: string };

export interface Piece extends Named {
  on: boolean;
}
export interface Need {
  before: string;
  reason: string;
  outcome: string;
  unsafe: boolean;
}
export interface StepShown extends Named {
  moves: { piece: string; on: boolean; word: string }[];
  needs: Need[];
  /** Energies that it makes safe, proves, and brings back. */
  safe: string[];
  proves: string[];
  live: string[];
}
export interface PartsShown {
  kind: "parts";
  figure: string;
  pieces: Piece[];
  energies: Named[];
  steps: StepShown[];
  dangers: { energy: string; reason: string; gates: string[]; reaches: string[] }[];
  outcomes: Record<string, string>;
  unsafe: string;
}

/** The cylinders in the order of their numbers; see trainkit/cycle for what the angles mean. */
export interface StrokesShown {
  kind: "strokes";
  cylinders: { number: number; fires_at: number }[];
  valves: {
    inlet_opens: number;
    inlet_shuts: number;
    exhaust_opens: number;
    exhaust_shuts: number;
    injection_begins: number;
    injection_ends: number;
  };
  rod: number;
  start: number;
  clockwise: boolean;
  how: string;
}

/** A lock pin counted in whole ticks; the names are those of trainkit.lockpin.lattice. */
export interface PinLattice {
  scale: number;
  press: number;
  give_up: number;
  back_off: number;
  clearance: number;
  shared: number;
  to_pin: number;
  to_component: number;
  lets_pass: number;
  half: number;
  period: number;
  little: number;
  holes: number[];
  passings: number;
  marked: boolean[];
  right: boolean[];
  marks_on: "bar" | "pin gear" | "component gear";
}
export interface PinStand {
  passing: number;
  crank: number;
  fork: number;
  hole: number;
  component: number;
  pin: "out" | "pressed" | "seated" | "in a false hole" | "sheared";
  last: number;
}
export interface DialMark {
  at: string;
  label: string;
}
export interface PinShown {
  kind: "pin";
  /** The same in lines, for print. */
  figure: string;
  lattice: PinLattice;
  start: PinStand;
  dial: { name: string; seen_from: End; clockwise: boolean; turns: number; seats_at: number; marks: DialMark[] };
  bar: { teeth: [ring: number, pinion: number] | null; ratio: number; clockwise: boolean; seen_from: End };
  hole_in: string;
  compression: boolean;
  said: Record<Exclude<PinSentence, "passings">, string> & { passings: string[] };
}
export type PinSentence =
  | ("stands" | "early" | "window" | "missed" | "metal" | "rubs" | "rubs_early" | "rubs_late" | "rubs_window")
  | ("seats" | "held" | "false" | "wrong_flank" | "passings" | "bar_off" | "sheared" | "kicked")
  | ("first_safe" | "made_safe" | "make_safe" | "sound");

export type InstrumentShown = (Train | LeverShown | FlangeShown | StrokesShown | PinShown | PartsShown) & {
  mode: "try";
  name: string;
  heading: string;
  lead: string[];
  unscored: string;
};
export interface InstrumentHooks {
  root: HTMLElement;
  post: import("./post.js").Post;
  alarm: HTMLElement;
}
export interface Instrument {
  node: HTMLElement;
  focus(): void;
  close?(): void;
}
