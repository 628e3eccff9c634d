// What the kernel's workbook says, as `trainkit/widgets/kernel_messages.py` writes it, and what the strip shows.

export interface Word {
  term: string;
  forms: string[];
  text: string;
}
/** What the kernel says first: code and text of the module's own notebook, and the words of the trade. */
export interface Opened {
  type: "opened";
  code: string[];
  text: string[];
  words?: Word[];
}
export interface State {
  type: "state";
  title: string;
  form?: string;
  person?: string;
  answered: string[];
  open: string[];
  closed?: string;
  /** That it is due within a day, or overdue. */
  due?: string;
}
export type Told = Opened | State;

export type Status = "waiting" | "saving" | "none" | "saved" | "failed" | "practice";
export interface Standing {
  status: Status;
  word: string;
  detail: string;
  /** Nothing of it is said aloud. */
  silent?: boolean;
  /** What is said aloud instead of word and detail. */
  aloud?: string;
  /** The kernel can be started again. */
  again?: boolean;
}
export interface StripView extends Standing {
  title: string;
  who: string;
  steps: { answered: boolean; unsaved: boolean }[];
  count: string;
  next: string | undefined;
  notes: string[];
}
