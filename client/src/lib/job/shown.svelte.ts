// What a station shows of its step: its last result, until a newer one is here. A step being worked anew takes
// nothing off the screen.
import type { StepView, StepWhole } from '../../api-types';
import type { OpenJob } from './job.svelte';

export interface Shown {
  /** The last result of this step. */
  readonly whole: StepWhole | null;
  /** The result of the step as it stands now: what may be cut, printed or sold. */
  readonly current: StepWhole | null;
  /** The last result that went well, or as far as it could: what can be pointed at while a choice is put right. */
  readonly good: StepWhole | null;
  /** Wait until what is shown is what was asked for last, or nothing is being done about it. */
  caughtUp(): Promise<void>;
}

const BEAT = 40;
/** Longest a hand waits for a result under way [ms]. */
const PATIENCE = 30_000;

/** Follow a step's result; call it while a station is set up. */
export function shown(job: OpenJob, step: () => StepView | undefined): Shown {
  let whole = $state.raw<StepWhole | null>(null);
  let good = $state.raw<StepWhole | null>(null);
  $effect(() => {
    const id = step()?.id;
    if (id) void job.read(id).then((found) => found && step()?.id === id && take(found));
  });
  function take(found: StepWhole): void {
    whole = found;
    if (found.state === 'done' || found.scene) good = found;
  }
  // Another part's result is not this one's.
  const mine = (one: StepWhole | null): StepWhole | null => (one && one.id === step()?.id ? one : null);
  return {
    get whole() {
      return mine(whole);
    },
    get current() {
      return whole && whole.key === step()?.key ? whole : null;
    },
    async caughtUp() {
      const end = performance.now() + PATIENCE;
      const has = (): boolean => ['done', 'failed'].includes(step()?.state ?? '');
      while (performance.now() < end && (!job.idle || (has() && whole?.key !== step()?.key)))
        await new Promise((on) => setTimeout(on, BEAT));
    },
    get good() {
      return mine(good);
    },
  };
}
