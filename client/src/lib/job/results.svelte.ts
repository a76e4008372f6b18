// Results of a job's steps: read once for each result, and the sentence that belongs beside a field.
import type { Problem, StepView, StepWhole } from '../../api-types';
import { get } from '../api';
import type { Asking } from '../asking.svelte';
import type { SavedJob } from './saved.svelte';
import type { Station } from '../stations';

export class Results {
  private whole = $state.raw<Record<string, StepWhole>>({});
  private reading = new Map<string, Promise<StepWhole | null>>();

  constructor(
    readonly id: string,
    private readonly asking: Asking,
    private readonly job: () => SavedJob,
  ) {}

  step(id: string): StepView | undefined {
    return this.job().view?.steps.find((s) => s.id === id);
  }

  stationSteps(station: Station): StepView[] {
    return this.job().view?.steps.filter((s) => s.station === station) ?? [];
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
      reading = this.asking.waitFor(() =>
        this.asking.quietly(() => get<StepWhole>(`/jobs/${this.id}/steps/${encodeURIComponent(id)}`)),
      );
      this.reading.set(ask, reading);
      void reading.finally(() => this.reading.delete(ask));
    }
    const found = await reading;
    if (!found || found.key !== this.step(id)?.key) return null;
    this.whole = { ...this.whole, [id]: found };
    return found;
  }

  /** The sentence that belongs beside a field, if something is wrong with it. */
  wrongAt(path: string): Problem | null {
    const fits = (where: string): boolean => where === path || where.endsWith(`.${path}`);
    if (this.asking.problem && fits(this.asking.problem.where)) return this.asking.problem;
    for (const step of this.job().view?.steps ?? []) {
      if (step.state === 'failed' && step.error && fits(step.error.where)) {
        return { code: 'step', values: {}, ...step.error };
      }
    }
    return null;
  }
}
