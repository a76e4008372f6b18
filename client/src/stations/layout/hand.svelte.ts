// A hand on the laid pieces: it drags, turns and locks them, and lays them anew. The server tells what is legal.
import type { LayoutData, MoveAnswer, PlacementEntry } from '../../api-types';
import { send } from '../../lib/api';
import { dataOf } from '../../lib/data';
import type { OpenJob } from '../../lib/job/job.svelte';
import type { Spot } from '../../lib/drawing/plate';
import type { Shown } from '../../lib/job/shown.svelte';
import { dragged, indexOf, piecesOf, placedAnew, turned, type Lying, type Piece } from './model';

/** A piece being dragged: its outline, how far it is from where it lay, whether it may lie there, the nearest place. */
interface Ghost {
  d: string;
  by: Spot;
  legal: boolean;
  near: Spot;
}

export class LayingHand {
  ghost = $state.raw<Ghost | null>(null);
  private asking = false;
  private latest: { piece: Piece; at: Lying } | null = null;
  /** One thing is done after another, each on the laying the ones before it made: nothing done quickly is lost. */
  private before: Promise<void> = Promise.resolve();

  constructor(
    private readonly job: OpenJob,
    private readonly result: Shown,
  ) {}

  get pieces(): Piece[] {
    return piecesOf(this.result.good?.scene);
  }
  private get laid(): LayoutData | null {
    return dataOf(this.result.good, 'layout');
  }
  private now(piece: Piece): Piece {
    return this.pieces.find((p) => p.id === piece.id) ?? piece;
  }

  private then(act: () => Promise<void> | void): void {
    this.before = this.before.then(() =>
      this.job.waitFor(async () => {
        await this.result.caughtUp();
        await act();
      }),
    );
  }

  /** Lay all but what is locked; numbers go to other pieces, so that none is in hand after it. */
  lay = (): void =>
    this.then(() => {
      const stay = (this.laid?.placements ?? []).filter((p) => p.locked);
      const on = stay.length ? (this.laid?.on ?? []) : [];
      const more = this.result.whole ? 1 : 0;
      this.job.piece = '';
      this.job.aim('layout');
      void this.job.change('placed', (d) =>
        Object.assign(d.layout, { placements: stay, by_hand: false, on, go_on: '', seed: d.layout.seed + more }),
      );
    });

  /** Change how a piece lies, as it is said. */
  set = (note: string, piece: Piece, more: Partial<PlacementEntry>): void =>
    this.then(() => this.change(note, piece, more));

  drag = (piece: Piece, from: Spot, to: Spot): void => {
    const by: Spot = [to[0] - from[0], to[1] - from[1]];
    this.ghost = { d: piece.d, by, legal: this.ghost?.legal ?? true, near: this.ghost?.near ?? by };
    this.latest = { piece, at: dragged(piece.pose, from, to) };
    void this.ask();
  };
  drop = (held: Piece, from: Spot, to: Spot): void =>
    this.then(async () => {
      const piece = this.now(held);
      await this.put('moved a part', piece, dragged(piece.pose, from, to));
      this.ghost = null;
    });
  turn = (held: Piece, degrees: number): void =>
    this.then(() => {
      const piece = this.now(held);
      return this.put('turned a part', piece, turned(piece, degrees));
    });

  private move(piece: Piece, at: Lying): Promise<MoveAnswer | null> {
    const body = { index: indexOf(piece), plate: this.job.plate, mirrored: piece.pose.mirrored, ...at };
    return this.job.loudly(() => send<MoveAnswer>('POST', `/jobs/${this.job.id}/move`, body));
  }

  private async ask(): Promise<void> {
    if (this.asking || !this.latest) return;
    this.asking = true;
    const { piece, at } = this.latest;
    this.latest = null;
    // while a laying is being made anew there is no answer, and none is needed
    const answer = this.result.current ? await this.move(piece, at) : null;
    this.asking = false;
    if (answer && this.ghost) {
      const [x, y] = [answer.x_mm ?? at.x_mm, answer.y_mm ?? at.y_mm];
      this.ghost = { ...this.ghost, legal: answer.legal, near: [x - piece.pose.x_mm, -(y - piece.pose.y_mm)] };
    }
    if (this.latest) void this.ask();
  }

  /** Put a piece where it is wanted, or at the nearest place where it may lie. */
  private async put(note: string, piece: Piece, at: Lying): Promise<void> {
    const answer = await this.move(piece, at);
    if (!answer || answer.x_mm === null || answer.y_mm === null) return;
    this.change(note, piece, { angle_rad: at.angle_rad, x_mm: answer.x_mm, y_mm: answer.y_mm, locked: true });
  }

  private change(note: string, piece: Piece, more: Partial<PlacementEntry>): void {
    const all = placedAnew(this.laid?.placements ?? [], this.job.plate, indexOf(piece), more);
    const on = this.laid?.on ?? [];
    this.job.aim('layout');
    void this.job.change(note, (d) => Object.assign(d.layout, { placements: all, by_hand: true, on, go_on: '' }));
  }
}
