// A job's document as it is saved: what was changed is kept on this device first, then sent in order; the copy on the
// device goes when the server has it. Nothing changed is ever only in memory.
import type { JobDocument, JobView } from '../../api-types';
import { ApiError, asProblem, get, send } from '../api';
import type { Asking } from '../asking.svelte';
import { same } from '../same';

interface Draft {
  document: JobDocument;
  expected: number;
  note: string;
}

const draftKey = (id: string): string => `platewright-draft-${id}`;

/** What goes on beside the document and is told of it. */
export interface Beside {
  /** Called as a look at the job begins; what it returns is told the answer, if that is still of the present. */
  looking(): (view: JobView) => void;
  took(view: JobView): void;
  saved(): Promise<void>;
}

/** The answer of a shop whose disk is full or cannot be written. */
const FULL = 503;
/** How long to wait before sending again what it could not keep [ms]. */
const AGAIN_AFTER = 10_000;

export class SavedJob {
  view = $state.raw<JobView | null>(null);
  conflict = $state<{ current: number; kept: number } | null>(null);
  unsent = $state(false);
  /** Whether the shop refused what is unsent, or could not keep it (then it is sent again by itself). */
  stuck = $state(false);
  private queue: Promise<void> = Promise.resolve();
  /** What the changes not sent yet were made from; another one after each refusal. */
  private from = { number: 0 };
  private note = '';
  /** What an earlier visit could not send, until the job it belongs to is here. */
  private left: Draft | null = null;
  private turning: Promise<void> | null = null;
  // An answer that was asked for before a save, or before another answer already taken, tells of the past.
  private looks = 0;
  private newest = 0;
  private saves = 0;
  private saving = 0;
  private again = false;
  private pending = 0;

  constructor(
    readonly id: string,
    private readonly asking: Asking,
    private readonly beside: Beside,
  ) {}

  async open(): Promise<void> {
    const text = localStorage.getItem(draftKey(this.id));
    this.left = text ? (JSON.parse(text) as Draft) : null;
    await this.reload();
  }

  /** Whether a look at the job is under way. */
  get looking(): boolean {
    return this.pending > 0;
  }

  /** Wait until what was changed so far is sent. */
  settled(): Promise<void> {
    return this.queue;
  }

  async reload(): Promise<void> {
    const look = ++this.looks;
    const saves = this.saves;
    const answered = this.beside.looking();
    this.pending += 1;
    const view = await this.asking.quietly(() => get<JobView>(`/jobs/${this.id}`));
    this.pending -= 1;
    if (!view || look < this.newest) return;
    if (saves !== this.saves) {
      // What was saved meanwhile is told by its own answer; whatever else happened is looked up after it.
      if (this.saving) this.again = true;
      else await this.reload();
      return;
    }
    this.newest = look;
    answered(view);
    if (this.unsent && this.view) this.take({ ...view, number: this.view.number, document: this.view.document });
    else this.take(view);
  }

  private take(view: JobView): void {
    this.view = view;
    if (!this.unsent) this.from = { number: view.number };
    this.beside.took(view);
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
      this.asking.problem = null;
      this.stuck = false;
      from.number = view.number;
      const mine = this.view?.document;
      if (!mine || mine === document) {
        this.sent();
        this.take(view);
      } else {
        this.take({ ...view, document: mine });
        this.keep(mine, this.note);
      }
      await this.beside.saved();
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
    this.asking.problem = asProblem(wrong);
    if (!(wrong instanceof ApiError) || !wrong.status) return;
    this.stuck = wrong.status !== 409 && wrong.status !== 404;
    if (wrong.status === FULL) setTimeout(() => void this.resend(), AGAIN_AFTER);
    if (this.stuck) return;
    this.sent();
    await this.reload();
    // An answer that never arrived looks like somebody else's save; what is there is ours.
    const ours = same(this.view?.document, document);
    this.asking.problem = ours ? null : wrong.problem;
    if (wrong.problem.code === 'H001' && !ours) {
      const { current, kept } = wrong.problem.values as { current: number; kept: number };
      this.conflict = { current, kept };
    }
  }

  /** Send what could not be sent while the connection was away. */
  resend(): Promise<void> {
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
      const view = await this.asking.loudly(() =>
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
}
