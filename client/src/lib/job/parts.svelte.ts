// The part of a job in hand at a station: its entry in the document, and how it is changed.
import type { JobDocument, PartEntry } from '../../api-types';
import type { OpenJob } from './job.svelte';
import { plateTakesMetal } from './metal';

export type Source = PartEntry['source'];
type Kind = Source['kind'];
type Of<K extends Kind> = Extract<Source, { kind: K }>;

const isOf = <K extends Kind>(source: Source, kinds: readonly K[]): source is Of<K> =>
  kinds.some((kind) => kind === source.kind);

export class PartInHand {
  constructor(
    readonly job: OpenJob,
    private readonly wanted: () => string,
  ) {}

  get entries(): PartEntry[] {
    return this.job.document?.parts ?? [];
  }
  /** The part that is wanted, the first one if there is no such part, nothing if there is none. */
  get entry(): PartEntry | null {
    return this.entries.find((p) => p.id === this.wanted()) ?? this.entries[0] ?? null;
  }
  get index(): number {
    return this.entry ? this.entries.indexOf(this.entry) : -1;
  }

  /** Change this part; whoever calls it late changes the part it was called for. */
  edit = (note: string, change: (p: PartEntry, d: JobDocument) => void): void => {
    const id = this.entry?.id;
    void this.job.change(note, (d) => {
      const part = d.parts.find((p) => p.id === id);
      if (part) change(part, d);
    });
  };

  /** Change what this part came from, if it came in one of these ways. */
  source = <K extends Kind>(kinds: readonly K[], note: string, change: (s: Of<K>) => void): void =>
    this.edit(note, (p) => {
      if (isOf(p.source, kinds)) change(p.source);
    });

  /** Add parts and open the first of them at a station. */
  add(note: string, made: readonly PartEntry[], station: 'pattern' | 'part'): void {
    const [first] = made;
    if (!first) return;
    void this.job
      .change(note, (d) => {
        d.parts.push(...made);
        plateTakesMetal(d);
      })
      .then(() => (location.hash = `#/job/${this.job.id}/${station}/${first.id}`));
  }

  takeOut = (): void => {
    const { entry } = this;
    if (entry)
      void this.job.change(`took ${entry.name} out`, (d) => (d.parts = d.parts.filter((p) => p.id !== entry.id)));
  };
}
