// A field of a form as tests need one.
import type { FieldData } from '../api-types';

export const testField = (name: string, kind: string, more: Partial<FieldData> = {}): FieldData => ({
  name,
  label: name,
  kind,
  unit: '',
  default: '',
  begin: '',
  choices: [],
  help: '',
  allowed: '',
  low: null,
  high: null,
  only: '',
  ...more,
});
