// Slow work on a job: the line worked up to a station, how far it is, and its end.
import type { JobView, WorkView } from '../../api-types';
import { send } from '../api';
import type { Asking } from '../asking.svelte';
import type { SavedJob } from './saved.svelte';
import { WORKED, type Worked } from '../stations';

export class SlowWork {
  now = $state.raw<WorkView | null>(null);
  private wanted: Worked | null = null;
  private requested = '';
  private starting = 0;
  private lastText = '';

  constructor(
    readonly id: string,
    private readonly asking: Asking,
    private readonly job: () => SavedJob,
    private readonly lost: () => void,
  ) {}

  /** Whether work is being asked for or under way. */
  get active(): boolean {
    return this.busy || this.starting > 0;
  }

  /** Begin to compare: work whose end was told while nobody listened is over. */
  looking(): (view: JobView) => void {
    const was = this.now?.id;
    return (view) => {
      if (this.busy && this.now?.id === was && !view.works.some((w) => w.id === was)) this.now = null;
    };
  }

  took(view: JobView): void {
    if (view.works[0]) this.now = view.works[0];
  }

  async saved(): Promise<void> {
    if (this.wanted) await this.start(this.wanted);
  }

  /** Say up to which station the line is wanted worked from now on; the next save starts it. */
  aim(until: Worked): void {
    this.wanted = until;
  }

  /** Work the line up to a station, now and again after each change until another is wanted. */
  async workTo(until: Worked): Promise<void> {
    this.wanted = until;
    await this.job().settled();
    await this.start(until);
  }

  private async start(until: Worked): Promise<void> {
    const last = WORKED.indexOf(until);
    const todo = this.job().view?.steps.some((s) => WORKED.indexOf(s.station) <= last && s.state === 'ready');
    if (!todo || (this.busy && this.requested === `${this.job().view?.number}:${until}`)) return;
    this.requested = `${this.job().view?.number}:${until}`;
    this.starting += 1;
    this.now = await this.asking.loudly(() => send<WorkView>('POST', `/jobs/${this.id}/work`, { until }));
    this.starting -= 1;
    setTimeout(() => void this.job().reload(), 1200);
  }

  async cancel(): Promise<void> {
    this.wanted = null;
    const id = this.now?.id;
    if (!id) return;
    try {
      await fetch(`/api/works/${id}`, { method: 'DELETE', headers: { 'X-Platewright': '1' } });
    } catch {
      this.lost();
    }
  }

  /** Ask the slow work to end with the best it has. */
  async enough(): Promise<void> {
    const id = this.now?.id;
    if (id) await this.asking.loudly(() => send<WorkView>('POST', `/works/${id}/enough`));
  }

  get busy(): boolean {
    return this.now?.state === 'waiting' || this.now?.state === 'running';
  }

  heard(work: WorkView): void {
    if (work.about !== this.id) return;
    if (this.now && this.now.id !== work.id && (work.state === 'cancelled' || work.state === 'done')) return;
    this.now = work;
    const ended = work.state !== 'running' && work.state !== 'waiting';
    if (work.error)
      this.asking.problem = {
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
      void this.job()
        .reload()
        .then(() => (more && more === this.wanted && !this.job().unsent ? this.start(more) : undefined));
    }
  }
}
