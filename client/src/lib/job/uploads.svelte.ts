// Files on their way to the shop: which one is being sent, and what is told if it does not arrive.
import type { FileInfo, Problem } from '../../api-types';
import { asProblem, upload } from '../api';

export class Uploads {
  /** The file being sent, in words; empty if none is. */
  now = $state('');

  constructor(private readonly report: { problem: Problem | null }) {}

  /** Send files, and return what the shop keeps them under; nothing if one did not arrive, which is told. */
  async send(files: readonly File[]): Promise<string[] | null> {
    try {
      const kept: string[] = [];
      for (const file of files) {
        this.now = `sending ${file.name}`;
        kept.push((await upload<FileInfo>('/files', file)).sha256);
      }
      return kept;
    } catch (wrong) {
      this.report.problem = asProblem(wrong);
      return null;
    } finally {
      this.now = '';
    }
  }
}

/** The files chosen in an input; it is emptied, so that the same ones can be chosen again. */
export function chosenIn(event: Event & { currentTarget: HTMLInputElement }): File[] {
  const input = event.currentTarget;
  const files = [...(input.files ?? [])];
  input.value = '';
  return files;
}
