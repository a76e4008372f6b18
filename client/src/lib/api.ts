// Every call to the shop's server: JSON in, JSON out, one shape of error.
import type { Problem } from '../api-types';

export class ApiError extends Error {
  constructor(
    readonly status: number,
    readonly problem: Problem,
  ) {
    super(problem.what);
  }
}

const lost: Problem = {
  code: 'offline',
  what: 'The shop’s computer does not answer.',
  where: '',
  allowed: '',
  do: 'What you changed is kept on this device and sent when it answers again.',
  values: {},
};

async function ask(method: string, path: string, body?: BodyInit, type?: string): Promise<Response> {
  // what only reads goes without headers of its own, so that index.html may ask for it before this program is there
  const headers: Record<string, string> = method === 'GET' ? {} : { 'X-Platewright': '1' };
  if (type) headers['Content-Type'] = type;
  let answer: Response;
  try {
    answer = await fetch(`/api${path}`, { method, headers, ...(body === undefined ? {} : { body }) });
  } catch {
    throw new ApiError(0, lost);
  }
  if (!answer.ok) throw new ApiError(answer.status, await problemOf(answer));
  return answer;
}

async function problemOf(answer: Response): Promise<Problem> {
  try {
    return (await answer.json()) as Problem;
  } catch {
    return {
      ...lost,
      code: `http-${answer.status}`,
      what: `The shop’s computer answered ${answer.status}.`,
      do: 'Reload the page.',
    };
  }
}

export async function get<T>(path: string): Promise<T> {
  return (await (await ask('GET', path)).json()) as T;
}

export async function send<T>(method: 'POST' | 'PUT', path: string, body: unknown = {}): Promise<T> {
  return (await (await ask(method, path, JSON.stringify(body), 'application/json')).json()) as T;
}

/** Enter something into the ledger; if the computer's clock seems set back, a person is asked first. */
export async function enter<T>(path: string, body: Record<string, unknown>): Promise<T> {
  try {
    return await send<T>('POST', path, body);
  } catch (wrong) {
    if (
      !(wrong instanceof ApiError) ||
      wrong.problem.where !== 'clock' ||
      !confirm(`${wrong.problem.what} ${wrong.problem.do}\n\nEnter it anyway?`)
    )
      throw wrong;
    return send<T>('POST', path, { ...body, anyway: true });
  }
}

export async function drop(path: string): Promise<void> {
  await ask('DELETE', path);
}

export async function upload<T>(path: string, file: File): Promise<T> {
  const form = new FormData();
  form.append('file', file, file.name || 'photo.jpg');
  form.append('name', file.name || 'photo');
  return (await (await ask('POST', path, form)).json()) as T;
}

/** Send a file as it is, whatever its size. */
export async function sendFile<T>(path: string, file: File): Promise<T> {
  return (await (await ask('POST', path, file, 'application/zip')).json()) as T;
}

/** Fetch a file to keep, and return what the shop's computer had to say of it. */
export async function download(path: string, name: string, body?: unknown): Promise<string> {
  const answer = await (body === undefined
    ? ask('POST', path)
    : ask('POST', path, JSON.stringify(body), 'application/json'));
  const blob = await answer.blob();
  const link = document.createElement('a');
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
  return decodeURIComponent(answer.headers.get('x-platewright-said') ?? '');
}

export const fileUrl = (sha256: string, name = ''): string =>
  `/api/files/${sha256}${name ? `?name=${encodeURIComponent(name)}` : ''}`;

export function asProblem(wrong: unknown): Problem {
  if (wrong instanceof ApiError) return wrong.problem;
  return {
    ...lost,
    code: 'page',
    what: `The page made a mistake: ${String(wrong)}`,
    do: 'Reload the page; nothing saved is lost.',
  };
}
