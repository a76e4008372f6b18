// What the type checker does not see: values nobody uses, templates that break when rows move, markup put in unread.
import svelte from 'eslint-plugin-svelte';
import ts from 'typescript-eslint';
import settings from './svelte.config.js';

export default ts.config(
  { ignores: ['node_modules/', 'dist/', 'src/api-types.ts'] },
  ...ts.configs.recommended,
  ...svelte.configs.recommended,
  {
    files: ['**/*.svelte', '**/*.svelte.ts'],
    languageOptions: {
      parserOptions: { parser: ts.parser, extraFileExtensions: ['.svelte'], svelteConfig: settings },
    },
  },
  {
    rules: {
      '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_', varsIgnorePattern: '^_' }],
      'svelte/no-navigation-without-resolve': 'off', // no router: addresses are plain hashes
      'svelte/prefer-svelte-reactivity': 'off', // maps and sets here are made, used and dropped
    },
  },
);
