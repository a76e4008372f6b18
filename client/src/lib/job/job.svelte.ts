// One open job: its document as it is saved, the results of its steps, and the slow work on it, under one roof.
import type { JobDocument, JobView, Problem, StepView, StepWhole, WorkView } from '../../api-types';
import { Asking } from '../asking.svelte';
import { hear } from '../events';
import { Results } from './results.svelte';
import { SavedJob } from './saved.svelte';
import { stepId, type Station, type Worked } from '../stations';
import { SlowWork } from './work.svelte';

/** What a person most likely does next, when that is not to go on to the next station. */
export interface Act {
  label: string;
  disabled: boolean;
  run: () => void;
}

export class OpenJob {
  act = $state.raw<Act | null>(null);
  /** The piece in hand, the same at every station: 'placed:2' for #3; empty for none. */
  piece = $state('');
  private chosen = $state(1);
  online = $state(true);
  private readonly asking = new Asking();
  private readonly saved: SavedJob;
  private readonly results: Results;
  private readonly slow: SlowWork;
  private stops: (() => void)[] = [];

  constructor(readonly id: string) {
    this.slow = new SlowWork(
      id,
      this.asking,
      () => this.saved,
      () => (this.online = false),
    );
    this.saved = new SavedJob(id, this.asking, this.slow);
    this.results = new Results(id, this.asking, () => this.saved);
  }

  async open(): Promise<void> {
    this.stops = [
      hear('work', (w) => this.slow.heard(w)),
      hear('saved', (s) => {
        if (s.job === this.id && s.number !== this.view?.number && !this.unsent) void this.reload();
      }),
      hear('reset', () => void this.reload()),
      hear('open', () => {
        this.online = true;
        void this.reload().then(() => this.saved.resend());
      }),
      hear('lost', () => (this.online = false)),
    ];
    await this.saved.open();
  }
  close(): void {
    for (const stop of this.stops) stop();
  }

  /** Whether what is shown may still be of the past: a change is being saved or a result fetched. */
  get settling(): boolean {
    return this.unsent || this.asking.waiting;
  }
  /** Whether nothing is being saved, worked or looked up: the steps stand as they are shown. */
  get idle(): boolean {
    return !this.unsent && !this.slow.active && !this.saved.looking;
  }

  // -- the document ----------------------------------------------------------------------------
  get view(): JobView | null {
    return this.saved.view;
  }
  get document(): JobDocument | null {
    return this.saved.view?.document ?? null;
  }
  get unsent(): boolean {
    return this.saved.unsent;
  }
  get stuck(): boolean {
    return this.saved.stuck;
  }
  get conflict(): SavedJob['conflict'] {
    return this.saved.conflict;
  }
  set conflict(to) {
    this.saved.conflict = to;
  }
  reload = (): Promise<void> => this.saved.reload();
  /** Change the document; the change is kept here at once and sent in order. */
  change = (note: string, edit: (document: JobDocument) => void): Promise<void> => this.saved.change(note, edit);
  undo = (which: 'undo' | 'redo'): Promise<void> => this.saved.undo(which);
  restore = (number: number): Promise<void> => this.saved.restore(number);

  // -- results ---------------------------------------------------------------------------------
  /** A step by its id; of a station that has one for each plate, that of the plate in hand. */
  step = (id: string): StepView | undefined => {
    const wrong = this.document?.wrong;
    if (id === 'rescue' && wrong && wrong.plate !== this.plate) return undefined;
    return this.results.step(stepId(id, this.plate));
  };
  stationSteps = (station: Station): StepView[] => this.results.stationSteps(station);
  read = (id: string): Promise<StepWhole | null> => this.results.read(id);
  wrongAt = (path: string): Problem | null => this.results.wrongAt(path);

  // -- the plates its parts go over --------------------------------------------------------------
  /** How many there are, as far as it is known. */
  get plates(): number {
    return Math.max(1, this.stationSteps('layout').length);
  }
  /** The plate in hand, from 1, the same at every station. */
  get plate(): number {
    return Math.min(this.chosen, this.plates);
  }
  set plate(to: number) {
    if (to !== this.plate) this.piece = '';
    this.chosen = to;
  }

  // -- slow work -------------------------------------------------------------------------------
  get work(): WorkView | null {
    return this.slow.now;
  }
  get busy(): boolean {
    return this.slow.busy;
  }
  aim = (until: Worked): void => this.slow.aim(until);
  workTo = (until: Worked): Promise<void> => this.slow.workTo(until);
  cancel = (): Promise<void> => this.slow.cancel();
  enough = (): Promise<void> => this.slow.enough();

  // -- asking ----------------------------------------------------------------------------------
  get problem(): Problem | null {
    return this.asking.problem;
  }
  set problem(to) {
    this.asking.problem = to;
  }
  get missing(): Problem | null {
    return this.asking.missing;
  }
  set missing(to) {
    this.asking.missing = to;
  }
  waitFor = <T>(call: () => Promise<T>): Promise<T> => this.asking.waitFor(call);
  loudly = <T>(call: () => Promise<T>): Promise<T | null> => this.asking.loudly(call);
  fetched = <T>(path: string, take: (found: T) => void): Promise<void> => this.asking.fetched(path, take);
}
