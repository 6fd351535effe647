import { gzipSync } from 'node:zlib';
import { defineConfig, type Plugin } from 'vite';

/** Compressed size of the JavaScript that a page loads, aimed at: an old laptop reads all of it before the first sheet. */
const AIM_KIB = 150;

export default defineConfig({
  root: 'web',
  base: './',
  build: { outDir: '../dist/web', emptyOutDir: true },
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  plugins: [sizeLine()],
});

function sizeLine(): Plugin {
  return {
    name: 'size-line',
    writeBundle(_, bundle) {
      const scripts = Object.values(bundle).filter((file) => file.type === 'chunk');
      const kib = scripts.reduce((sum, { code }) => sum + gzipSync(code).length / 1024, 0);
      process.stderr.write(
        `Pages: ${kib.toFixed(1)} KiB of JavaScript compressed${kib > AIM_KIB ? `, more than the ${AIM_KIB} KiB aimed at` : ` (aim: ${AIM_KIB})`}\n`,
      );
    },
  };
}
