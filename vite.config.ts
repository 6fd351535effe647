import { defineConfig } from 'vite';

export default defineConfig({
  root: 'web',
  base: './',
  build: { outDir: '../dist/web', emptyOutDir: true },
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
});
