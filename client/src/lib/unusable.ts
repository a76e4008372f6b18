// Fields whose text cannot be used yet: while there is one, the next step waits.
import { SvelteSet } from 'svelte/reactivity';

export const unusable = new SvelteSet<string>();
