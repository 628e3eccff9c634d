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

/** An answer that is not on the disk yet. */
export interface Draft {
  response: Response;
  pressed: boolean;
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
export interface Play {
  figure: string;
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
export type Played = { type: "played"; play: Play; saved?: Saved | null; explained?: Explained | null; tally?: string };
export type QuestionReply =
  | (Refused & { play?: undefined })
  | { type: "read"; text: string; clash?: import("./typed.js").Clash }
  | { type: "saved"; saved: Saved }
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
}
export type End = "front" | "flywheel";
export interface Train {
  kind: "gears" | "clock";
  turned: string;
  watched?: string;
  seen_from: End;
  views: Record<End, string>;
  gears: Gear[];
  quantum: [number, number];
  steps: number[];
  larger: number;
  stroke: { cylinder: number; at: "compression" | "exhaust" } | null;
  hole: { gear: string; every: [number, number]; near: number } | null;
  back: string;
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

export interface Joint {
  id: string;
  figure: string;
  bolts: { id: string; done: boolean }[];
  noun: string;
  count: number;
  said: string;
  log: string[];
  hint: string;
  verdict: string[];
}
export interface CircleShown {
  kind: "bolts";
  joints: Named[];
  joint: Joint;
}
export type JointReply = (Refused & { joint?: undefined }) | { type: "tightened"; joint: Joint };

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

export type InstrumentShown = (Train | LeverShown | CircleShown | PartsShown) & {
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
