import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vitest/config';

// The page is built into the Python package; relative addresses let it be served from anywhere.
export default defineConfig({
  plugins: [svelte()],
  base: './',
  build: {
    outDir: '../src/platewright/web/static',
    emptyOutDir: true,
    target: 'es2022',
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
  },
  server: { proxy: { '/api': 'http://127.0.0.1:8765' } },
  test: { include: ['src/**/*.test.ts'], environment: 'node' },
});
