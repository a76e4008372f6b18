// One event stream for the whole page: slow work, and saves made in other windows.
import type { WorkView } from '../api-types';

export interface Saved {
  job: string;
  number: number;
}
type Told = {
  work: WorkView;
  saved: Saved;
  ledger: { number: number };
  probe: { job: string };
  reset: null;
  open: null;
  lost: null;
};
type Hear<K extends keyof Told> = (data: Told[K]) => void;

const heard: { [K in keyof Told]: Set<Hear<K>> } = {
  work: new Set(),
  saved: new Set(),
  ledger: new Set(),
  probe: new Set(),
  reset: new Set(),
  open: new Set(),
  lost: new Set(),
};
let stream: EventSource | null = null;

function tell<K extends keyof Told>(kind: K, data: Told[K]): void {
  for (const hear of heard[kind]) hear(data);
}

function open(): void {
  stream = new EventSource('/api/events');
  stream.addEventListener('work', (e) => tell('work', JSON.parse(e.data) as WorkView));
  stream.addEventListener('saved', (e) => tell('saved', JSON.parse(e.data) as Saved));
  stream.addEventListener('ledger', (e) => tell('ledger', JSON.parse(e.data) as { number: number }));
  stream.addEventListener('probe', (e) => tell('probe', JSON.parse(e.data) as { job: string }));
  stream.addEventListener('reset', () => tell('reset', null));
  stream.addEventListener('open', () => tell('open', null));
  stream.addEventListener('error', () => tell('lost', null));
}

/** Hear events of a kind; returns what stops it. */
export function hear<K extends keyof Told>(kind: K, listener: Hear<K>): () => void {
  if (!stream) open();
  heard[kind].add(listener);
  return () => heard[kind].delete(listener);
}
