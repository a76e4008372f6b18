// What the shop said of itself, as it is read and saved; each change goes upon the settings as they then are.
import type { Problem, SettingsView } from '../../api-types';
import { asProblem, get, send } from '../api';
import { shop } from './shop.svelte';

export class Settings {
  now = $state.raw<SettingsView | null>(null);
  problem = $state.raw<Problem | null>(null);
  private saving: Promise<unknown> = Promise.resolve();

  async load(): Promise<void> {
    try {
      this.now = await get<SettingsView>('/settings');
    } catch (wrong) {
      this.problem = asProblem(wrong);
    }
  }

  /** Save one after another; tells whether it was kept. */
  save = (change: (s: SettingsView) => Partial<SettingsView>): Promise<boolean> => {
    const saved = this.saving.then(async () => {
      try {
        const now = await get<SettingsView>('/settings');
        this.now = await send<SettingsView>('PUT', '/settings', { ...now, ...change(now) });
        this.problem = null;
        await shop.load();
        return true;
      } catch (wrong) {
        this.problem = asProblem(wrong);
        return false;
      }
    });
    this.saving = saved;
    return saved;
  };

  /** What is wrong with a field, if the last complaint is about it. */
  wrongAt = (key: string): Problem | null =>
    this.problem?.where.split(/[ .]/).at(-1) === key ? this.problem : null;
}

/** The lines of an address, as it is typed with one separator or another. */
export const linesOf = (text: string, separator: string): string[] =>
  text
    .split(separator)
    .map((line) => line.trim())
    .filter(Boolean);

export type Question = 'units' | 'table' | 'shop';
/** The questions of the first evening that are answered once this one is. */
export const answered = (s: SettingsView, question: Question): Partial<SettingsView> => ({
  answered: [...new Set([...s.answered, question])],
});
