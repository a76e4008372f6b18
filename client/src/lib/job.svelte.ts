// One open job: its document, its line of steps, saving, and slow work. Nothing changed is ever only in memory:
// a change is kept on this device first, then sent; the copy on the device goes when the server has it.
import { untrack } from 'svelte';
import type { JobDocument, JobView, Problem, StepView, StepWhole, WorkView } from '../api-types';
import { ApiError, asProblem, get, send } from './api';
import { hear } from './events';
import { same } from './same';
import { WORKED, type Station, type Worked } from './stations';

interface Draft {
  document: JobDocument;
  expected: number;
  note: string;
}

const draftKey = (id: string): string => `platewright-draft-${id}`;

/** What a person most likely does next, when that is not to go on to the next station. */
export interface Act {
  label: string;
  disabled: boolean;
  run: () => void;
}

export class OpenJob {
  view = $state.raw<JobView | null>(null);
  whole = $state.raw<Record<string, StepWhole>>({});
  work = $state.raw<WorkView | null>(null);
  problem = $state<Problem | null>(null);
  /** What a page needs beside the job and could not fetch; other work going well does not take it away. */
  missing = $state<Problem | null>(null);
  conflict = $state<{ current: number; kept: number } | null>(null);
  unsent = $state(false);
  /** The piece in hand, the same at every station: 'placed:2' for #3; empty for none. */
  piece = $state('');
  act = $state.raw<Act | null>(null);
  online = $state(true);
  /** Questions a person waits for: results of steps, places, what a page needs beside the job. */
  private waits = $state(0);
  private stops: (() => void)[] = [];
  private queue: Promise<void> = Promise.resolve();
  private wanted: Worked | null = null;
  private asked = '';
  /** What the changes not sent yet were made from; another one after each refusal. */
  private from = { number: 0 };
  private note = '';
  /** What an earlier visit could not send, until the job it belongs to is here. */
  private left: Draft | null = null;
  private turning: Promise<void> | null = null;
  private reading = new Map<string, Promise<StepWhole | null>>();
  // An answer that was asked for before a save, or before another answer already taken, tells of the past.
  private looks = 0;
  private newest = 0;
  private saves = 0;
  private saving = 0;
  private again = false;
  private looking = 0;
  private starting = 0;

  constructor(readonly id: string) {}

  async open(): Promise<void> {
    this.stops = [
      hear('work', (w) => this.heardWork(w)),
      hear('saved', (s) => {
        if (s.job === this.id && s.number !== this.view?.number && !this.unsent) void this.reload();
      }),
      hear('reset', () => void this.reload()),
      hear('open', () => {
        this.online = true;
        void this.reload().then(() => this.resend());
      }),
      hear('lost', () => (this.online = false)),
    ];
    const text = localStorage.getItem(draftKey(this.id));
    this.left = text ? (JSON.parse(text) as Draft) : null;
    await this.reload();
  }

  close(): void {
    for (const stop of this.stops) stop();
  }

  get document(): JobDocument | null {
    return this.view?.document ?? null;
  }

  /** Whether what is shown may still be of the past: a change is being saved or a result fetched. */
  get settling(): boolean {
    return this.unsent || this.waits > 0;
  }

  /** Whether nothing is being saved, worked or looked up: the steps stand as they are shown. */
  get idle(): boolean {
    return !this.unsent && !this.busy && this.starting === 0 && this.looking === 0;
  }

  step(id: string): StepView | undefined {
    return this.view?.steps.find((s) => s.id === id);
  }

  stationSteps(station: Station): StepView[] {
    return this.view?.steps.filter((s) => s.station === station) ?? [];
  }

  /** The data and scene of a step, read once for each result; nothing if it has none, or is another one by now. */
  async read(id: string): Promise<StepWhole | null> {
    const step = this.step(id);
    if (!step || (step.state !== 'done' && step.state !== 'failed')) return null;
    const held = this.whole[id];
    if (held && held.key === step.key && held.state === step.state) return held;
    const ask = `${id} ${step.key} ${step.state}`;
    let reading = this.reading.get(ask);
    if (!reading) {
      reading = this.waitFor(() =>
        this.quietly(() => get<StepWhole>(`/jobs/${this.id}/steps/${encodeURIComponent(id)}`)),
      );
      this.reading.set(ask, reading);
      void reading.finally(() => this.reading.delete(ask));
    }
    const found = await reading;
    if (!found || found.key !== this.step(id)?.key) return null;
    this.whole = { ...this.whole, [id]: found };
    return found;
  }

  async reload(): Promise<void> {
    const look = ++this.looks;
    const saves = this.saves;
    const was = this.work?.id;
    this.looking += 1;
    const view = await this.quietly(() => get<JobView>(`/jobs/${this.id}`));
    this.looking -= 1;
    if (!view || look < this.newest) return;
    if (saves !== this.saves) {
      // What was saved meanwhile is told by its own answer; whatever else happened is looked up after it.
      if (this.saving) this.again = true;
      else await this.reload();
      return;
    }
    this.newest = look;
    // Work whose end was told while nobody listened is over.
    if (this.busy && this.work?.id === was && !view.works.some((w) => w.id === was)) this.work = null;
    if (this.unsent && this.view) this.take({ ...view, number: this.view.number, document: this.view.document });
    else this.take(view);
  }

  private take(view: JobView): void {
    this.view = view;
    if (!this.unsent) this.from = { number: view.number };
    if (view.works[0]) this.work = view.works[0];
    const draft = this.left;
    this.left = null;
    if (draft) this.adopt(draft, view.document);
  }

  /** Go on with what an earlier visit could not send, unless it arrived and only its answer was lost. */
  private adopt(draft: Draft, there: JobDocument): void {
    if (same(draft.document, there)) return this.sent();
    this.from = { number: draft.expected };
    void this.hold(draft.document, draft.note);
  }

  /** Change the document; the change is kept here at once and sent in order. */
  change(note: string, edit: (document: JobDocument) => void): Promise<void> {
    if (this.turning) return this.turning.then(() => this.change(note, edit));
    if (!this.view) return Promise.resolve();
    const document = structuredClone(this.view.document);
    edit(document);
    return this.hold(document, note);
  }

  private hold(document: JobDocument, note: string): Promise<void> {
    const from = this.from;
    if (this.view) this.view = { ...this.view, document };
    this.unsent = true;
    this.keep(document, note);
    this.queue = this.queue.then(() => this.save(document, note, from));
    return this.queue;
  }

  private keep(document: JobDocument, note: string): void {
    this.note = note;
    localStorage.setItem(
      draftKey(this.id),
      JSON.stringify({ document, expected: this.from.number, note } satisfies Draft),
    );
  }

  private async save(document: JobDocument, note: string, from: { number: number }): Promise<void> {
    try {
      const view = await this.write(() =>
        send<JobView>('PUT', `/jobs/${this.id}`, { document, expected: from.number, note }),
      );
      this.problem = null;
      from.number = view.number;
      const mine = this.view?.document;
      if (!mine || mine === document) {
        this.sent();
        this.take(view);
      } else {
        this.take({ ...view, document: mine });
        this.keep(mine, this.note);
      }
      if (this.wanted) await this.start(this.wanted);
    } catch (wrong) {
      await this.notSaved(wrong, document);
    } finally {
      await this.caughtUp();
    }
  }

  /** Do what moves the job's head; a look at the job begun before its end is of the past. */
  private async write<T>(call: () => Promise<T>): Promise<T> {
    this.saves += 1;
    this.saving += 1;
    try {
      return await call();
    } finally {
      this.saves += 1;
      this.saving -= 1;
    }
  }

  private async caughtUp(): Promise<void> {
    if (!this.again || this.saving) return;
    this.again = false;
    await this.reload();
  }

  private sent(): void {
    this.unsent = false;
    localStorage.removeItem(draftKey(this.id));
  }

  private async notSaved(wrong: unknown, document: JobDocument): Promise<void> {
    this.problem = asProblem(wrong);
    if (!(wrong instanceof ApiError) || (wrong.status !== 409 && wrong.status !== 404)) return;
    this.sent();
    await this.reload();
    // An answer that never arrived looks like somebody else's save; what is there is ours.
    const ours = same(this.view?.document, document);
    this.problem = ours ? null : wrong.problem;
    if (wrong.problem.code === 'H001' && !ours) {
      const { current, kept } = wrong.problem.values as { current: number; kept: number };
      this.conflict = { current, kept };
    }
  }

  /** Send what could not be sent while the connection was away. */
  private resend(): Promise<void> {
    this.queue = this.queue.then(() => this.saveLeft());
    return this.queue;
  }

  private async saveLeft(): Promise<void> {
    if (this.unsent && this.view) await this.save(this.view.document, this.note, this.from);
  }

  /** Move the job's head by a question of its own, after what is being saved and before what is changed next. */
  private turn(path: string, body: () => object): Promise<boolean> {
    const turned = this.queue.then(async () => {
      await this.saveLeft();
      const view = await this.loudly(() =>
        this.write(() => send<JobView>('POST', `/jobs/${this.id}/${path}`, body())),
      );
      if (view) {
        this.sent();
        this.take(view);
      }
      await this.caughtUp();
      return view !== null;
    });
    const after = turned.then(() => {
      if (this.turning === after) this.turning = null;
    });
    this.queue = this.turning = after;
    return turned;
  }

  async undo(which: 'undo' | 'redo'): Promise<void> {
    await this.turn(which, () => ({ expected: this.view?.number }));
  }

  async restore(number: number): Promise<void> {
    if (await this.turn('restore', () => ({ number, expected: this.view?.number }))) this.conflict = null;
  }

  /** Say up to which station the line is wanted worked from now on; the next save starts it. */
  aim(until: Worked): void {
    this.wanted = until;
  }

  /** Work the line up to a station, now and again after each change until another is wanted. */
  async workTo(until: Worked): Promise<void> {
    this.wanted = until;
    await this.queue;
    await this.start(until);
  }

  private async start(until: Worked): Promise<void> {
    const last = WORKED.indexOf(until);
    const todo = this.view?.steps.some((s) => WORKED.indexOf(s.station as Worked) <= last && s.state === 'ready');
    if (!todo || (this.busy && this.asked === `${this.view?.number}:${until}`)) return;
    this.asked = `${this.view?.number}:${until}`;
    this.starting += 1;
    this.work = await this.loudly(() => send<WorkView>('POST', `/jobs/${this.id}/work`, { until }));
    this.starting -= 1;
    setTimeout(() => void this.reload(), 1200);
  }

  async cancel(): Promise<void> {
    this.wanted = null;
    const id = this.work?.id;
    if (!id) return;
    try {
      await fetch(`/api/works/${id}`, { method: 'DELETE', headers: { 'X-Platewright': '1' } });
    } catch {
      this.online = false;
    }
  }

  /** Ask the slow work to end with the best it has. */
  async enough(): Promise<void> {
    const id = this.work?.id;
    if (id) await this.loudly(() => send<WorkView>('POST', `/works/${id}/enough`));
  }

  get busy(): boolean {
    return this.work?.state === 'waiting' || this.work?.state === 'running';
  }

  private lastText = '';

  private heardWork(work: WorkView): void {
    if (work.about !== this.id) return;
    if (this.work && this.work.id !== work.id && (work.state === 'cancelled' || work.state === 'done')) return;
    this.work = work;
    const ended = work.state !== 'running' && work.state !== 'waiting';
    if (work.error)
      this.problem = {
        code: 'work',
        where: '',
        allowed: '',
        values: {},
        what: work.error['what'] ?? '',
        do: work.error['do'] ?? '',
      };
    if (ended || work.text !== this.lastText) {
      this.lastText = work.text;
      const more = work.state === 'done' ? this.wanted : null;
      void this.reload().then(() => (more && more === this.wanted && !this.unsent ? this.start(more) : undefined));
    }
  }

  private async quietly<T>(call: () => Promise<T>): Promise<T | null> {
    try {
      return await call();
    } catch (wrong) {
      if (wrong instanceof ApiError && wrong.status !== 0) this.problem = wrong.problem;
      return null;
    }
  }

  /** Do something a person waits for. */
  async waitFor<T>(call: () => Promise<T>): Promise<T> {
    untrack(() => (this.waits += 1)); // an effect that asks does not wait for its own asking
    try {
      return await call();
    } finally {
      this.waits -= 1;
    }
  }

  async loudly<T>(call: () => Promise<T>): Promise<T | null> {
    try {
      const answer = await this.waitFor(call);
      this.problem = null;
      return answer;
    } catch (wrong) {
      this.problem = asProblem(wrong);
      return null;
    }
  }

  /** Read something a page needs beside the job; if that fails it is told, and what is there stays. */
  async fetched<T>(path: string, take: (found: T) => void): Promise<void> {
    try {
      take(await this.waitFor(() => get<T>(path)));
    } catch (wrong) {
      this.missing = asProblem(wrong);
    }
  }

  /** The sentence that belongs beside a field, if something is wrong with it. */
  wrongAt(path: string): Problem | null {
    const fits = (where: string): boolean => where === path || where.endsWith(`.${path}`);
    if (this.problem && fits(this.problem.where)) return this.problem;
    for (const step of this.view?.steps ?? []) {
      if (step.state === 'failed' && step.error && fits(step.error.where)) {
        return { code: 'step', values: {}, ...step.error };
      }
    }
    return null;
  }
}
