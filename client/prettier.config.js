/** Markup and script as everybody's formatter leaves them; lines up to 120 columns. */
export default {
  printWidth: 115,
  singleQuote: true,
  trailingComma: 'all',
  plugins: ['prettier-plugin-svelte'],
  overrides: [{ files: '*.svelte', options: { parser: 'svelte', bracketSameLine: false } }],
};
