// Made from the API's description by tools/generated.py; edit platewright.web, not this file.

/** How many of each part by its id (as before where nothing is said), which plate of the rack (empty: as before), and which parts alone. */
export interface AgainAsk {
  quantities: Record<string, number>;
  stock: string;
  only: string[];
}

/** The revision the page shows, so that a change made elsewhere is noticed. */
export interface Ask {
  expected: number;
}

/** The price of a quantity; money as text. */
export interface BreakData {
  sets: number;
  price: string;
  each: string;
  cost: string;
}

/** A burn plan as the page plays it. */
export interface BurnData {
  cuts: CutData[];
  track: TrackData;
  starting_point: boolean;
  why?: string[];
}

/** Table, chart and what is asked of the planner. */
export interface BurnEntry {
  table: string;
  chart: string;
  amperage: string;
  leads: LeadEntry[];
  options: Record<string, unknown>;
}

/** What may be chosen about a burn: for the whole plan in groups, and for one cut; ``default`` says what is done else. */
export interface BurnFormView {
  plan: Form[];
  cut: Form;
}

/** A caution: what it is about, what to do, where it comes from, how sure we are of that, and whether it is this metal's own. */
export interface CautionView {
  title: string;
  text: string;
  source: string;
  status: string;
  own: boolean;
}

/** One setting or number as it was and as it becomes, how sure, and why. */
export interface ChangeView {
  label: string;
  before: string;
  after: string;
  sure: string;
  why: string;
}

/** What is checked: the job and its part, the photo's file and that of the under face if there is one, where the cards lay, the check bars as said. With ``save_as`` the kerf found is put into the job's chart under that name, if it is sure. */
export interface CheckAsk {
  job: string;
  part: string;
  photo: string;
  under: string;
  cards_on: "bench" | "offcuts";
  bars: [string, string];
  save_as: string;
}

/** What a photo says of a cut part: sentences, sizes, files (the difference as SVG among them), findings, the kerf offered. */
export interface CheckView {
  lines: string[];
  sizes: MeasuredSize[];
  files: FileData[];
  findings: FindingView[];
  kerf: ChangeView | null;
  saved: string;
}

/** A circle by its middle, as said. */
export interface Circle {
  kind: "circle";
  x: string;
  y: string;
  diameter: string;
}

/** Work the line up to a station (all of it if none is named). */
export interface Compute {
  until: string | null;
}

/** What coupon is asked for, in words: metal, thickness, amperage, table, chart, plate on the rack, side of the big square; or a job it is laid with, whose plate, table and dialect count. */
export interface CouponAsk {
  grade: string;
  thickness: string;
  amperage: string;
  table: string;
  chart: string;
  stock: string;
  square: string;
  job: string;
}

/** A coupon: what it is for, with how many pieces of a job it is cut, its files, what there is to measure, what was written down, whether it was saved, the cautions of its metal, and the figures it starts from (label, value, band, origin). */
export interface CouponView {
  id: string;
  at: string;
  said: string;
  chart: string;
  pieces: number;
  verdict: string;
  done: boolean;
  files: FileData[];
  sizes: SizeView[];
  strips: StripView[];
  findings: FindingView[];
  measured: Record<string, string[]>;
  dross: Record<string, string>;
  looks: string[];
  square_by: "tape" | "caliper";
  cautions: CautionView[];
  closing: string;
  starts: ChangeView[];
}

/** How wide a piece must be to be kept as a drop, as said, and which plate of the layout is cut, from 1. */
export interface CutAsk {
  smallest: string;
  plate: number;
}

/** One cut: its number, which contour of which copy, why it is as it is, where it starts, what it frees. */
export interface CutData {
  number: string;
  kind: string;
  label: string;
  contour: number;
  placement: number;
  part: string;
  copy: number;
  mirrored: boolean;
  why: string[];
  pierce_mm: number[];
  spot: [number, number];
  speed_mm_min: number;
  frees: number[];
}

/** A paired device: id, what the shop calls it, when paired, when last seen. */
export interface Device {
  id: string;
  name: string;
  at: string;
  seen: string;
}

/** A way of writing programs. */
export interface DialectView {
  name: string;
  title: string;
  about: string;
}

/** A drawing file (DXF or SVG); the unit is asked for when the file does not say. ``gap`` is how far loose ends may be apart to be joined, as said; ``open_lines`` and ``texts`` what becomes of lines that close to no shape, and of text (empty: on paper only, and told); ``text_height`` empty burns text as high as drawn. */
export interface DrawingSource {
  kind: "drawing";
  file: string;
  name: string;
  unit: "" | "mm" | "in";
  gap: string;
  open_lines: "tell" | "leave";
  texts: "" | "paper" | "mark" | "leave";
  text_height: string;
}

/** Lines and arcs drawn by hand [mm], perhaps over a straightened photo. */
export interface DrawnSource {
  kind: "drawn";
  over: OverEntry;
  outer: Tap[];
  holes: Tap[][];
}

/** A part of an earlier job: what it is, and how it was wanted there. */
export interface EarlierPart {
  job: string;
  part: string;
  title: string;
  name: string;
  at: string;
  size: string;
  thickness: string;
  grade: string;
  quantity: number;
  pairs: boolean;
  steps: number;
}

/** An edge as operations take it: which of which contour, how many that has, and its midpoint [mm]. */
export interface EdgeData {
  contour: number;
  edge: number;
  of: number;
  mid_mm: [number, number];
}

/** What is wrong, in which field or file, what is allowed, what to do. */
export interface FailureData {
  what: string;
  where: string;
  allowed: string;
  do: string;
}

/** A family of shapes and its dimensions as said. */
export interface FamilySource {
  kind: "family";
  family: string;
  values: Record<string, string>;
}

/** One field: its key (in a file with its section), what it is called, what is done if it is empty, its range in words, what it begins with. ``low`` and ``high`` are its range in the house unit, and ``only`` is the sort of thing it belongs to. */
export interface FieldData {
  name: string;
  label: string;
  kind: string;
  unit: string;
  default: string;
  begin: string;
  choices: string[];
  help: string;
  allowed: string;
  low: number | null;
  high: number | null;
  only: string;
}

/** A kept file a step made; its size in [bytes]. */
export interface FileData {
  role: string;
  label: string;
  sha256: string;
  name: string;
  media: string;
  size: number;
}

/** A kept file: its hash, size [bytes], media type, and the name it came with. */
export interface FileInfo {
  sha256: string;
  size: number;
  media: string;
  name: string;
  at: string;
}

/** A finding, with its place also in picture coordinates (x, -y). */
export interface FindingView {
  code: string;
  slug: string;
  severity: "stop" | "look" | "note";
  text: string;
  do: string;
  place_mm: [number, number] | null;
  subject: string;
  number: number;
  spot: [number, number] | null;
}

/** The three questions of the first evening: which are open, the shop's table and unit, the tables that ship. */
export interface FirstView {
  open: ("units" | "table" | "shop")[];
  table: string;
  examples: string[];
  unit: "mm" | "in";
}

/** How raw outlines become lines and arcs: tolerance as said (empty: from the measured noise), relations refused. */
export interface Fitting {
  tolerance: string;
  refuse: string[];
  relations: boolean;
  round_to: string;
}

/** A form: its key, what the page calls it, a sentence, its fields. */
export interface Form {
  name: string;
  title: string;
  help: string;
  fields: FieldData[];
}

/** A table or dialect as its form says it, field by field as typed; or a dialect brought in as a file. */
export interface FormValues {
  name: string;
  own: boolean;
  said: Record<string, string>;
  toml: string;
}

/** A part of a job in the list: how many pieces, of what. */
export interface HeldPart {
  id: string;
  name: string;
  count: number;
  quantity: number;
  pairs: boolean;
  size: string;
  metal: string;
}

/** Who answers: version, whether this device may come in, whether it is the shop's own computer, whether phones may come in, and whether that was opened on the page. */
export interface HelloView {
  version: string;
  paired: boolean;
  here: boolean;
  lan: boolean;
  closable: boolean;
}

/** Who a plate is held for; empty releases it. */
export interface HoldAsk {
  owner: string;
}

/** A picture beneath the drawing: a kept file and where it lies in picture coordinates [mm]. */
export interface ImageData {
  file: string;
  x: number;
  y: number;
  width: number;
  height: number;
}

/** Issue a quote: for which job as it stands (its revision). */
export interface IssueAsk {
  expected: number;
  anyway: boolean;
  job: string;
  number: number;
}

/** A numbered quote or invoice: where it stands, what it may become, and what stands for it. */
export interface IssuedView {
  number: string;
  kind: "quote" | "invoice";
  state: "quoted" | "accepted" | "made" | "delivered" | "paid" | "void";
  next: ("accepted" | "made" | "delivered" | "paid" | "void")[];
  customer: string;
  title: string;
  job: string;
  day: string;
  net: string;
  tax: string;
  total: string;
  currency: string;
  replaces: string;
  quote: string;
  invoice: string;
  rests_on: string[];
}

/** One drawable: SVG path data in picture coordinates [mm], and what it is. */
export interface Item {
  spot?: [number, number];
  label?: string;
  room_mm?: number;
  locked?: boolean;
  pose?: PoseData;
  ref?: EdgeData;
  length_mm?: number;
  radius_mm?: number;
  cut?: number;
  d: string;
  kind: string;
  id: string;
  title: string;
}

/** One job from pattern to price. */
export interface JobDocument {
  format: "platewright-job-1";
  name: string;
  customer: string;
  note: string;
  parts: PartEntry[];
  plate: PlateEntry;
  more_plates: PlateEntry[];
  keepouts: KeepOutEntry[];
  layout: LayoutEntry;
  burn: BurnEntry;
  program: ProgramEntry;
  paper: PaperEntry;
  price: PriceEntry;
  wrong: WrongEntry | null;
  good: Record<string, number>;
}

/** A job in the list: how many of its steps are done, whether there is a picture of it, and what it holds. */
export interface JobLine {
  id: string;
  number: number;
  name: string;
  customer: string;
  at: string;
  parts: number;
  done: number;
  steps: number;
  verdict: "go" | "look" | "stop" | null;
  drawn: boolean;
  holds: HeldPart[];
}

/** A job: its document, its revision, and its line of steps. */
export interface JobView {
  id: string;
  number: number;
  at: string;
  note: string;
  can_undo: boolean;
  can_redo: boolean;
  document: JobDocument;
  steps: StepView[];
  works: WorkView[];
}

/** A magnet, clamp or bad place on the plate. */
export interface KeepOutEntry {
  name: string;
  place: Rectangle | Circle | Polygon;
  stands: string;
}

/** A layout on one plate: its document, copies that fit on no plate, ids of its parts, corners of the plate [mm]. ``more`` holds the documents of the other plates, with the first plate's step alone; ``on`` says which plate entry of the job each plate of the layout is; ``placements`` are the copies on all of them. */
export interface LayoutData {
  layout: Record<string, unknown>;
  more: Record<string, unknown>[];
  missing: number;
  parts: string[];
  corners: [number, number][];
  on: number[];
  placements: PlacedData[];
}

/** How to lay: clearances as said (empty: room for a full lead-in), search time as said or in [s], seed, turns, what counts when not everything fits, parts laid in a way of their own, and copies placed by hand. A choice sent as empty text is as if nothing were said. ``repeat_sheets``: full sheets are taken as often as needed. ``common``: like parts share a cut. ``cut_off``: a straight line beside the parts is kept free. ``heat``, ``slats`` and ``first_slat`` say how parts should lie, ``leeway`` what may be given up for it. ``go_on`` is the key of the layout to go on from, for ``longer`` [s]. ``on`` says for copies placed by hand which plate entry each plate of the layout is (0: the job's plate, 1: the first of the others); ``skews`` are those of plates after the first, by their number. */
export interface LayoutEntry {
  between: string;
  edge: string;
  keepout: string;
  seconds: number | string;
  steps: number | null;
  seed: number;
  turns: "free" | "quarter" | "grain";
  goal: "metal" | "money" | "count" | "kits";
  repeat_sheets: boolean;
  common: boolean;
  cut_off: boolean;
  heat: boolean;
  slats: string;
  slats_run: "y" | "x";
  first_slat: string;
  leeway: string;
  go_on: string;
  longer: number;
  own: OwnEntry[];
  placements: PlacementEntry[];
  by_hand: boolean;
  on: number[];
  skew: Skewed;
  skews: Record<string, Skewed>;
}

/** What may be chosen about a layout: for all parts in groups, and for one part; ``default`` says what is done else. */
export interface LayoutFormView {
  plan: Form[];
  own: Form;
}

/** One cut decided by hand: which, where it should pierce or enter [mm], and other choices as said. */
export interface LeadEntry {
  part: string;
  copy_number: number;
  mirrored: boolean;
  contour: number;
  at_mm: [number, number] | null;
  options: Record<string, unknown>;
}

/** How many entries of the ledger the page shows, and whether to go on although the clock seems set back. */
export interface LedgerAsk {
  expected: number;
  anyway: boolean;
}

/** Move a document on. */
export interface LedgerMove {
  expected: number;
  anyway: boolean;
  state: "accepted" | "made" | "delivered" | "paid" | "void";
}

/** The ledger: which revision it is, and its documents, newest first. */
export interface LedgerView {
  number: number;
  documents: IssuedView[];
}

/** A smudge: what was found within a radius of a place is left out [mm]. */
export interface LeftOut {
  at_mm: [number, number];
  radius_mm: number;
}

/** A line of a quote; money as text. */
export interface LineData {
  text: string;
  quantity: number;
  each: string;
}

/** Dimensions as said. */
export interface LiveAsk {
  values: Record<string, string>;
}

/** A family's shape as its dimensions stand, what was found, and the parts it stands for if they are several. */
export interface LivePart {
  scene: SceneData;
  numbers: NumberData[];
  notes: string[];
  findings: FindingView[];
  pieces: PieceView[];
  template: boolean;
}

/** One look of a cut: its word, title, what is seen, the setting it moves and how, why. */
export interface LookView {
  word: string;
  title: string;
  seen: string;
  moves: string;
  why: string;
  do: string;
}

/** Whether a job's plate is cut, and which of its drops are on the rack. */
export interface MadeView {
  cut: boolean;
  drops: StockView[];
}

/** A size as asked and as seen, and the classes it meets. */
export interface MeasuredSize {
  name: string;
  asked: string;
  seen: string;
  classes: string;
}

/** Whether it may lie there, and the nearest place where it may [mm]; both None if there is none. */
export interface MoveAnswer {
  legal: boolean;
  x_mm: number | null;
  y_mm: number | null;
}

/** A placed copy in the hand: which one, on which plate of the layout, and where it would lie. */
export interface MoveAsk {
  index: number;
  plate: number;
  x_mm: number;
  y_mm: number;
  angle_rad: number;
  mirrored: boolean;
}

/** A corner of a found outline moved by hand from one place to another [mm]. */
export interface Moved {
  at_mm: [number, number];
  to_mm: [number, number];
}

/** A job to start. */
export interface NewJob {
  document: JobDocument;
}

/** One number to show, with its unit in the text. */
export interface NumberData {
  label: string;
  value: string;
}

/** What a job may take: plates of the rack in its metal, and the keep-outs of the job before it, where they were. */
export interface OffersView {
  plates: StockView[];
  keepouts: KeepOutEntry[];
  of_job: string;
  before: PlateEntry;
}

/** A finding of an earlier station that nobody has settled. */
export interface OpenData {
  station: "pattern" | "part" | "plate" | "layout" | "burn" | "program" | "proof" | "paper" | "price";
  part: string;
  severity: string;
  text: string;
}

/** One operation on a part: its name and its inputs, as said or in the house unit [mm, rad]. */
export interface OperationEntry {
  op: string;
  inputs: Record<string, unknown>;
  off: boolean;
}

/** A straightened photo that was drawn over: its file (empty: none), and where it lies in picture coordinates [mm]. */
export interface OverEntry {
  file: string;
  x: number;
  y: number;
  width: number;
  height: number;
}

/** How one part is laid otherwise than the rest: its turns, whether copies may be turned face down, how far it keeps from others. */
export interface OwnEntry {
  part: string;
  turns: "" | "free" | "quarter" | "grain";
  face_down: boolean;
  clear: string;
}

/** A one-use code, and what to call the device. */
export interface PairAsk {
  code: string;
  name: string;
}

/** A fresh pairing code as addresses to open and a QR picture (SVG) of the first. */
export interface PairingView {
  urls: string[];
  qr: string;
  minutes: number;
}

/** Paper size and the unit printed. */
export interface PaperEntry {
  paper: string;
  unit: "mm" | "in";
}

/** A finished part: its document, what was done to it, and from where one may measure. */
export interface PartData {
  part: Record<string, unknown>;
  steps: string[];
  zeros: ZeroData[];
}

/** A part of the job: where it came from, what was done to it, and how many are wanted. Parts with a smaller ``first`` are placed first; a filler is only laid where room is left; ``worth`` is what one is worth where money decides. */
export interface PartEntry {
  id: string;
  name: string;
  thickness: string;
  grade: string;
  quantity: number;
  pairs: boolean;
  first: number;
  filler: boolean;
  worth: string;
  source: PhotoSource | ScanSource | PictureSource | PointsSource | DrawingSource | FamilySource | DrawnSource | PartSource;
  operations: OperationEntry[];
}

/** An earlier part, kept whole: its part document. */
export interface PartSource {
  kind: "part";
  part: Record<string, unknown>;
  came_from: string;
}

/** A pattern: its part document; what was taken as meant, a picture's level, a drawing's text. */
export interface PatternData {
  part?: Record<string, unknown>;
  relations?: RelationData[];
  dimensions?: Record<string, unknown>[];
  level?: number;
  texts?: string[];
}

/** What the table has earned and has still to earn; empty texts where that cannot be said yet. */
export interface PaybackView {
  investment: string;
  earned: string;
  left: string;
  per_week: string;
  on: string;
  per_job: string;
  weeks: string;
  currency: string;
}

/** Photos with marker cards, by one camera: what they show and what the person says about them. ``bars`` is what the cards' check bars measure across and up, as said: both, or neither. */
export interface PhotoSource {
  kind: "photo";
  files: string[];
  name: string;
  template: string;
  bars: [string, string];
  cards_on: "offcuts" | "bench";
  click: [number, number] | null;
  painted: [number, number][];
  holes: number | null;
  left_out: LeftOut[];
  moved: Moved[];
  fitting: Fitting;
  anyway: boolean;
}

/** A picture made into a silhouette: how wide, which level (None: found), how smooth, how fine, thin places and strokes. */
export interface PictureSource {
  kind: "picture";
  file: string;
  name: string;
  width: string;
  level: number | null;
  invert: boolean;
  smooth: string;
  smallest: string;
  fill: boolean;
  keep: "largest" | "joined";
  thin: "thin places" | "leave";
  sheet: string;
  kerf: string;
  strokes: StrokeEntry[];
}

/** A piece that comes loose: how far its worst edge is off [mm]. */
export interface PieceData {
  kind: string;
  name: string;
  placement: number | null;
  order: number | null;
  loose_after: number | null;
  worst_mm: number | null;
}

/** One of the parts that a family's dimensions stand for: its name, and its dimensions as said. */
export interface PieceView {
  name: string;
  values: Record<string, string>;
}

/** A copy of a part on a plate of the layout, from 1, as a job's entry places it by hand [mm, rad]. */
export interface PlacedData {
  part: string;
  plate: number;
  copy_number: number;
  x_mm: number;
  y_mm: number;
  angle_rad: number;
  mirrored: boolean;
  locked: boolean;
}

/** One copy placed by hand: which part, which copy, on which plate of the layout (from 1), where [mm, rad]. */
export interface PlacementEntry {
  part: string;
  plate: number;
  copy_number: number;
  x_mm: number;
  y_mm: number;
  angle_rad: number;
  mirrored: boolean;
  locked: boolean;
}

/** A plate: its document, and what its photo shows if it is drawn from one. */
export interface PlateData {
  plate: Record<string, unknown>;
  seen?: PlateOutline;
}

/** What it is cut from: size or outline, old holes, grain as said, what became of it so far, its photo's file. ``stock`` is its id on the rack, ``held_for`` the job or person it is reserved for. ``from_photo`` says that the outline is drawn from the photo, and what the marker cards on it lie on: the bench, or offcuts as thick as the plate. ``owned`` says that somebody looked: a plate like the one every job begins with is there. */
export interface PlateEntry {
  name: string;
  kind: "sheet" | "drop";
  size: string;
  outline_mm: [number, number, number][];
  holes: (Rectangle | Circle | Polygon)[];
  thickness: string;
  grade: string;
  cost: string;
  rack: string;
  stock: string;
  grain: string;
  history: string[];
  photo: string;
  from_photo: "" | "bench" | "offcuts";
  held_for: string;
  owned: boolean;
}

/** Something that happened to a plate; ``at`` is empty for what happened before it came on the rack. */
export interface PlateEvent {
  at: string;
  what: string;
}

/** What a plate's photo shows [mm]. */
export interface PlateOutline {
  outline_mm: [number, number, number][];
  holes_mm: [number, number, number][][];
  said: string;
}

/** A file of traced or typed points. */
export interface PointsSource {
  kind: "points";
  file: string;
  name: string;
  unit: "" | "mm" | "in";
  left_out: LeftOut[];
  fitting: Fitting;
}

/** A closed outline drawn by hand [mm]: rows of x, y, bulge. */
export interface Polygon {
  kind: "polygon";
  rows_mm: [number, number, number][];
}

/** How a copy lies on the plate, of which part, which copy of it, and whether it stays [mm, rad]. */
export interface PoseData {
  x_mm: number;
  y_mm: number;
  angle_rad: number;
  mirrored: boolean;
  part: number;
  copy: number;
  locked: boolean;
}

/** A price: cost, lines, other quantities, what it rests on. */
export interface PriceData {
  cost: Record<string, unknown>;
  currency: string;
  lines: LineData[];
  quantities: BreakData[];
  rests_on: string[];
}

/** Rates other than the shop's own, each as said, and for how many sets to price besides: "2, 5, 10". */
export interface PriceEntry {
  rates: Record<string, string>;
  quantities: string;
}

/** What a probe touched, in the stream's unit: points of the open loop, a hole (x, y, diameter); or what to undo. */
export interface ProbeAsk {
  points: [number, number][];
  hole: [number, number, number] | null;
  undo: number;
  without_hole: boolean;
  next_loop: boolean;
  unit: "" | "mm" | "in";
}

/** The points so far: their picture, how many in each loop, and the last one in the stream's unit. */
export interface ProbeView {
  scene: SceneData;
  unit: "mm" | "in";
  loops: number[];
  holes: number;
  last: [number, number] | null;
}

/** What went wrong: a code of the catalogue, a sentence, the field or place, what is allowed, what to do. */
export interface Problem {
  code: string;
  what: string;
  where: string;
  allowed: string;
  do: string;
  values: Record<string, unknown>;
}

/** A program: its file, text's head and check code. */
export interface ProgramData {
  name: string;
  dialect: string;
  cut_lines: number[];
  program_file: string;
  sha256: string;
  head: string[];
  title: string;
  lines: number;
}

/** Dialect (empty: the table's own) and file name (empty: from the job's name). */
export interface ProgramEntry {
  dialect: string;
  name: string;
}

/** A proof: pieces, what it covers, what is still open, what it rests on. */
export interface ProofData {
  pieces: PieceData[];
  sha256: string;
  covers: string;
  open: OpenData[];
  rests_on: string[];
}

/** What the shop wrote down, in words: readings by size, dross by strip, looks, and what the big square was measured with. ``together`` reads it with the last coupon of the same job: right if tip and table are as they were then. With a chart's name it is saved under it; with a job, what changes in that job is told. */
export interface ReadAsk {
  measured: Record<string, string[]>;
  dross: Record<string, string>;
  looks: string[];
  square_by: "tape" | "caliper";
  together: boolean;
  save_as: string;
  job: string;
}

/** What a coupon says: sentences, what changes in the chart's row, what that changes in a job, findings, and where it was saved. */
export interface ReadView {
  lines: string[];
  changes: ChangeView[];
  job: ChangeView[];
  job_note: string;
  findings: FindingView[];
  saved: string;
}

/** An upright rectangle by its lower left, as said. */
export interface Rectangle {
  kind: "rectangle";
  x: string;
  y: string;
  width: string;
  height: string;
}

/** A relation taken as meant: what it is, in words, and the edges it is about. */
export interface RelationData {
  id: string;
  kind: string;
  text: string;
  edges: [number, number][];
  value_mm: number | null;
  change_mm: number;
}

/** Which revision to bring back. */
export interface RestoreAsk {
  expected: number;
  number: number;
}

/** What was done with a backup, in words, and the folder that was made beside the shop's. */
export interface RestoreView {
  said: string;
  folder: string;
}

/** A revision without its document: number, what it was made from, when, why, and whether it is set aside. */
export interface RevisionInfo {
  kind: string;
  id: string;
  number: number;
  parent: number | null;
  aside: boolean;
  at: string;
  note: string;
  head: boolean;
}

/** A chart's row as typed, and which one it stands in for; said empty takes that one out. */
export interface RowAsk {
  said: Record<string, string>;
  instead: number | null;
}

/** The rows of a cut chart as its form says them. */
export interface RowsView {
  name: string;
  own: boolean;
  rows: Record<string, string>[];
}

/** A changed document, the revision it was made from, and a word on what changed. */
export interface SaveJob {
  document: JobDocument;
  expected: number;
  note: string;
}

/** A quantity as said, what kind it must be, and the unit to say it in (empty: the shop's). */
export interface SayAsk {
  text: string;
  kind: "length" | "angle" | "share" | "time" | "sheet" | "place" | "hole" | "count" | "speed" | "current";
  metal: string;
  unit: "" | "mm" | "in";
}

/** A flatbed scan: resolution as said (None: the file's own, or a card's), and the check bars of a card on the glass. */
export interface ScanSource {
  kind: "scan";
  file: string;
  name: string;
  dpi: number | null;
  bars: [string, string];
  left_out: LeftOut[];
  moved: Moved[];
  fitting: Fitting;
}

/** What the page draws: view box x, y, width, height in picture coordinates [mm], and drawables, first ones below. */
export interface SceneData {
  box: [number, number, number, number];
  items: Item[];
  image?: ImageData | null;
}

/** The shop's settings, and which revision of them. */
export interface SettingsView {
  name: string;
  address: string[];
  rates: Record<string, string>;
  unit: "mm" | "in";
  paper: string;
  terms: string;
  tax: string;
  investment: string;
  share: string;
  answered: ("units" | "table" | "shop")[];
  table: string;
  chart: string;
  burn: Record<string, string>;
  number: number;
}

/** One size to measure: its key, where it is, what was asked, as shown. */
export interface SizeView {
  key: string;
  what: string;
  asked: string;
  kind: string;
}

/** Two or more places on the plate's drawing, and where they were touched on the table [mm]. */
export interface Skewed {
  drawn_mm: [number, number][];
  touched_mm: [number, number][];
}

/** A finding as results keep it: its number, and its place also in picture coordinates [mm]. */
export interface SpotData {
  code: string;
  slug: string;
  severity: "stop" | "look" | "note";
  text: string;
  do: string;
  place_mm: number[] | null;
  subject: string;
  values: Record<string, unknown>;
  number: number;
  spot: [number, number] | null;
}

/** A step as it stands. */
export interface StepView {
  id: string;
  station: "pattern" | "part" | "plate" | "layout" | "burn" | "program" | "proof" | "paper" | "price" | "rescue";
  part: string;
  plate: number;
  key: string;
  state: "done" | "failed" | "ready" | "waiting";
  summary: string | null;
  verdict: "go" | "look" | "stop" | null;
  numbers: NumberData[] | null;
  findings: FindingView[] | null;
  files: FileData[] | null;
  error: FailureData | null;
}

/** A step with its data and its scene. */
export interface StepWhole {
  id: string;
  station: "pattern" | "part" | "plate" | "layout" | "burn" | "program" | "proof" | "paper" | "price" | "rescue";
  part: string;
  plate: number;
  key: string;
  state: "done" | "failed" | "ready" | "waiting";
  summary: string | null;
  verdict: "go" | "look" | "stop" | null;
  numbers: NumberData[] | null;
  findings: FindingView[] | null;
  files: FileData[] | null;
  error: FailureData | null;
  data: Record<string, unknown> | null;
  scene: SceneData | null;
}

/** What was done. */
export interface StickAnswer {
  said: string;
}

/** Which kept file goes onto which stick, under which name. */
export interface StickAsk {
  sha256: string;
  stick: string;
  name: string;
}

/** A plate on the rack: its document as a job takes it, its photo, and what it is in the shop's unit. */
export interface StockView {
  id: string;
  number: number;
  plate: PlateEntry;
  photo: string;
  picture: SceneData | null;
  said: string;
  note: string;
}

/** One strip of the speed ladder: its number, length and speed as shown. */
export interface StripView {
  number: number;
  length: string;
  speed: string;
}

/** A stroke that draws metal into a picture or out of it: points and width in parts of the picture's width [-], y down. */
export interface StrokeEntry {
  points: [number, number][];
  width: number;
  metal: boolean;
}

/** Which part of which earlier job. */
export interface TakePart {
  job: string;
  part: string;
}

/** A part of an earlier job as a new one: source, steps, metal, pairs and quantity. */
export interface TakenPart {
  entry: PartEntry;
}

/** A corner tapped by hand; the edge to the next one is straight, or an arc through a third place [mm]. */
export interface Tap {
  at_mm: [number, number];
  through_mm: [number, number] | null;
}

/** A table or chart of the shop's own as TOML text. */
export interface TomlView {
  name: string;
  toml: string;
  own: boolean;
}

/** The torch's way in time [s, mm], for the page to play. */
export interface TrackData {
  t_s: number[];
  x: number[];
  y: number[];
  cut: number[];
  ends_s: number[];
  total_s: number;
}

/** What Shop > Tune shows: coupons newest first, looks, words for dross, and the set of consumables fitted. */
export interface TuneView {
  coupons: CouponView[];
  looks: LookView[];
  dross: Record<string, string>;
  fitted: string;
  pierces: number;
  arc_minutes: number;
  worn: FindingView[];
}

/** A value in its house unit (of a pair or place the first), and the words that say it. */
export interface Understood {
  value: number;
  shown: string;
}

/** Slow work: waiting, running, done, failed or cancelled, and how far it is (0 to 1). */
export interface WorkView {
  id: string;
  about: string;
  state: "waiting" | "running" | "done" | "failed" | "cancelled";
  done: number;
  text: string;
  seconds: number;
  error: Record<string, string> | null;
  pictures: number;
}

/** What went wrong at the table: with which program (its hash), and how it goes on. ``on``: the piece of a cut is left as scrap, and the cuts after it go on as planned. ``start``: again from a cut, by what it is called; ``at_mm`` is where its arc went out, None if it never got through. ``piece``: one piece of the layout, counted from 0, is cut again on what is left of the plate. ``plate`` is the plate of the layout it happened on, from 1. */
export interface WrongEntry {
  plate: number;
  program: string;
  how: "start" | "on" | "piece";
  cut: string;
  at_mm: [number, number] | null;
  piece: number;
}

/** A place from which one may measure [mm]. */
export interface ZeroData {
  name: string;
  at_mm: [number, number];
}

/** What the result of a station holds. */
export interface StationData {
  pattern: PatternData;
  part: PartData;
  plate: PlateData;
  layout: LayoutData;
  burn: BurnData;
  program: ProgramData;
  proof: ProofData;
  price: PriceData;
}
