import { gzipSync } from 'node:zlib';
import { defineConfig, type Plugin, type Rolldown } from 'vite';

/** Compressed size of the JavaScript that a sheet loads, aimed at: an old laptop reads all of it before the first line. */
const AIM_KIB = 150;

export default defineConfig({
  root: 'web',
  base: './',
  build: { outDir: '../dist/web', emptyOutDir: true },
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  plugins: [sizeLine()],
});

/** Compressed size in KiB of all scripts of the sheet that needs most of them: its own, those that it shares, and the page itself. */
export function heaviestSheetKib(files: readonly (Rolldown.OutputChunk | Rolldown.OutputAsset)[]): number {
  const chunks = new Map(
    files.flatMap((file) => (file.type === 'chunk' ? [[file.fileName, file] as const] : [])),
  );
  const needed = (name: string, seen: Set<string>): Set<string> => {
    const chunk = chunks.get(name);
    if (chunk === undefined || seen.has(name)) return seen;
    seen.add(name);
    for (const other of chunk.imports) needed(other, seen);
    return seen;
  };
  const entries = [...chunks.values()].filter(({ isEntry }) => isEntry).map(({ fileName }) => fileName);
  const sheets = [...chunks.values()].filter(({ isDynamicEntry }) => isDynamicEntry);
  const sizes = [...sheets.map(({ fileName }) => fileName), ''].map((sheet) => {
    const all = new Set<string>();
    for (const name of [...entries, sheet]) needed(name, all);
    return [...all].reduce((sum, name) => sum + gzipSync(chunks.get(name)?.code ?? '').length / 1024, 0);
  });
  return Math.max(...sizes);
}

function sizeLine(): Plugin {
  return {
    name: 'size-line',
    writeBundle(_, bundle) {
      const kib = heaviestSheetKib(Object.values(bundle));
      process.stderr.write(
        `Pages: at most ${kib.toFixed(1)} KiB of JavaScript compressed for a sheet${kib > AIM_KIB ? `, more than the ${AIM_KIB} KiB aimed at` : ` (aim: ${AIM_KIB})`}\n`,
      );
    },
  };
}
