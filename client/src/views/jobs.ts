// Jobs in a list, in words.
import type { JobLine } from '../api-types';

export const when = (at: string): string =>
  new Date(at).toLocaleDateString(undefined, {
    day: 'numeric',
    month: 'short',
    hour: '2-digit',
    minute: '2-digit',
  });

/** Jobs to choose from: those with parts, each told from others of its name by when it was saved. */
export const toChoose = (jobs: readonly JobLine[]): [string, string][] =>
  jobs
    .filter((j) => j.parts > 0)
    .map((j) => [j.id, jobs.filter((o) => o.name === j.name).length > 1 ? `${j.name}, ${when(j.at)}` : j.name]);

/** What a job makes: its first parts with their sizes. */
export const holds = ({ holds: parts }: JobLine): string =>
  parts
    .slice(0, 3)
    .map((p) => `${p.count} × ${p.name}${p.size ? `, ${p.size}` : ''}`)
    .join('; ') + (parts.length > 3 ? ` and ${parts.length - 3} more` : '');

/** Whether a job tells of what is looked for: its name, customer, parts, their sizes and metal. */
export const tells = (job: JobLine, wanted: string): boolean =>
  `${job.name} ${job.customer} ${job.holds.map((p) => `${p.name} ${p.size} ${p.metal}`).join(' ')}`
    .toLowerCase()
    .includes(wanted.trim().toLowerCase());
