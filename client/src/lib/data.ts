// What a station's result holds, by the types the server declares: the one place where it is taken to be so.
import type { StationData, StepWhole } from '../api-types';

/** The data of a station's result, or nothing if there is none. */
export function dataOf<S extends keyof StationData>(
  whole: StepWhole | null | undefined,
  _station: S,
): StationData[S] | null {
  return (whole?.data as StationData[S] | null | undefined) ?? null;
}
