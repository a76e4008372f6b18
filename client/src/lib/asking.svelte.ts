// Questions to the shop's server a person waits for, and what went wrong with them.
import { untrack } from 'svelte';
import type { Problem } from '../api-types';
import { ApiError, asProblem, get } from './api';

export class Asking {
  problem = $state<Problem | null>(null);
  /** What a page needs beside the job and could not fetch; other work going well does not take it away. */
  missing = $state<Problem | null>(null);
  private waits = $state(0);

  /** Whether something a person waits for is under way. */
  get waiting(): boolean {
    return this.waits > 0;
  }

  /** Ask something nobody waits for; a lost connection is told elsewhere. */
  async quietly<T>(call: () => Promise<T>): Promise<T | null> {
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
}
