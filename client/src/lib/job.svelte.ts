// One open job: its document, its line of steps, saving, and slow work. Nothing changed is ever only in memory:
// a change is kept on this device first, then sent; the copy on the device goes when the server has it.
import type { JobDocument, JobView, Problem, StepView, StepWhole, WorkView } from '../api-types';
import { ApiError, asProblem, get, send } from './api';
import { hear } from './events';
import { STATIONS, type Station } from './stations';

interface Draft {
  document: JobDocument;
  expected: number;
  note: string;
}

const draftKey = (id: string): string => `platewright-draft-${id}`;

export class OpenJob {
  view = $state.raw<JobView | null>(null);
  whole = $state.raw<Record<string, StepWhole>>({});
  work = $state.raw<WorkView | null>(null);
  problem = $state<Problem | null>(null);
  /** What a page needs beside the job and could not fetch; other work going well does not take it away. */
  missing = $state<Problem | null>(null);
  conflict = $state<{ current: number; kept: number } | null>(null);
  unsent = $state(false);
  online = $state(true);
  private stops: (() => void)[] = [];
  private queue: Promise<void> = Promise.resolve();
  private wanted: Station | null = null;
  private asked = '';

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
        void this.reload().then(() => this.sendDraft());
      }),
      hear('lost', () => (this.online = false)),
    ];
    await this.reload();
    await this.sendDraft();
  }

  close(): void {
    for (const stop of this.stops) stop();
  }

  get document(): JobDocument | null {
    return this.view?.document ?? null;
  }

  step(id: string): StepView | undefined {
    return this.view?.steps.find((s) => s.id === id);
  }

  stationSteps(station: Station): StepView[] {
    return this.view?.steps.filter((s) => s.station === station) ?? [];
  }

  /** The data and scene of a step, read once for each result. */
  async read(id: string): Promise<StepWhole | null> {
    const step = this.step(id);
    if (!step || (step.state !== 'done' && step.state !== 'failed')) return null;
    const held = this.whole[id];
    if (held && held.key === step.key && held.state === step.state) return held;
    const found = await this.quietly(() => get<StepWhole>(`/jobs/${this.id}/steps/${encodeURIComponent(id)}`));
    if (found) this.whole = { ...this.whole, [id]: found };
    return found;
  }

  async reload(): Promise<void> {
    const was = this.work?.id;
    const view = await this.quietly(() => get<JobView>(`/jobs/${this.id}`));
    if (!view) return;
    // Work whose end was told while nobody listened is over.
    if (this.busy && this.work?.id === was && !view.works.some((w) => w.id === was)) this.work = null;
    if (this.unsent && this.view) this.take({ ...view, number: this.view.number, document: this.view.document });
    else this.take(view);
  }

  private take(view: JobView): void {
    this.view = view;
    if (view.works[0]) this.work = view.works[0];
  }

  /** Change the document; the change is kept here at once and sent in order. */
  change(note: string, edit: (document: JobDocument) => void): Promise<void> {
    if (!this.view) return Promise.resolve();
    const document = structuredClone(this.view.document);
    edit(document);
    const expected = this.view.number;
    this.view = { ...this.view, document };
    this.unsent = true;
    localStorage.setItem(draftKey(this.id), JSON.stringify({ document, expected, note } satisfies Draft));
    this.queue = this.queue.then(() => this.save(document, note));
    return this.queue;
  }

  private async save(document: JobDocument, note: string): Promise<void> {
    const expected = this.view?.number ?? 0;
    try {
      const view = await send<JobView>('PUT', `/jobs/${this.id}`, { document, expected, note });
      this.problem = null;
      const newer = this.view !== null && this.view.document !== document && this.view.number === expected;
      this.take(newer && this.view ? { ...view, document: this.view.document } : view);
      if (!newer) this.sent();
      if (this.wanted) await this.start(this.wanted);
    } catch (wrong) {
      await this.notSaved(wrong);
    }
  }

  private sent(): void {
    this.unsent = false;
    localStorage.removeItem(draftKey(this.id));
  }

  private async notSaved(wrong: unknown): Promise<void> {
    this.problem = asProblem(wrong);
    if (!(wrong instanceof ApiError) || wrong.status === 0) return;
    if (wrong.problem.code === 'H001') {
      const { current, kept } = wrong.problem.values as { current: number; kept: number };
      this.conflict = { current, kept };
    }
    if (wrong.status === 409 || wrong.status === 404) {
      this.sent();
      await this.reload();
      this.problem = wrong.problem;
    }
  }

  /** Send what an earlier visit could not. */
  private async sendDraft(): Promise<void> {
    const text = localStorage.getItem(draftKey(this.id));
    if (!text || !this.view) return;
    const draft = JSON.parse(text) as Draft;
    try {
      this.take(await send<JobView>('PUT', `/jobs/${this.id}`, draft));
      this.sent();
    } catch (wrong) {
      await this.notSaved(wrong);
    }
  }

  async undo(which: 'undo' | 'redo'): Promise<void> {
    await this.queue;
    const view = await this.loudly(() => send<JobView>('POST', `/jobs/${this.id}/${which}`, { expected: this.view?.number }));
    if (view) this.take(view);
  }

  async restore(number: number): Promise<void> {
    const view = await this.loudly(() =>
      send<JobView>('POST', `/jobs/${this.id}/restore`, { number, expected: this.view?.number }),
    );
    if (view) {
      this.conflict = null;
      this.take(view);
    }
  }

  /** Say up to which station the line is wanted worked from now on; the next save starts it. */
  aim(until: Station): void {
    this.wanted = until;
  }

  /** Work the line up to a station, now and again after each change until another is wanted. */
  async workTo(until: Station): Promise<void> {
    this.wanted = until;
    await this.queue;
    await this.start(until);
  }

  private async start(until: Station): Promise<void> {
    const last = STATIONS.indexOf(until);
    const todo = this.view?.steps.some(
      (s) => STATIONS.indexOf(s.station as Station) <= last && (s.state === 'ready'),
    );
    if (!todo || (this.busy && this.asked === `${this.view?.number}:${until}`)) return;
    this.asked = `${this.view?.number}:${until}`;
    this.work = await this.loudly(() => send<WorkView>('POST', `/jobs/${this.id}/work`, { until }));
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

  get busy(): boolean {
    return this.work?.state === 'waiting' || this.work?.state === 'running';
  }

  private lastText = '';

  private heardWork(work: WorkView): void {
    if (work.about !== this.id) return;
    if (this.work && this.work.id !== work.id && (work.state === 'cancelled' || work.state === 'done')) return;
    this.work = work;
    const ended = work.state !== 'running' && work.state !== 'waiting';
    if (work.error) this.problem = { code: 'work', where: '', allowed: '', values: {}, what: work.error['what'] ?? '', do: work.error['do'] ?? '' };
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

  async loudly<T>(call: () => Promise<T>): Promise<T | null> {
    try {
      const answer = await call();
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
      take(await get<T>(path));
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
