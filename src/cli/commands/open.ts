import { spawn } from 'node:child_process';
import { Command } from 'commander';
import { loadBuild } from '../../build/load.ts';
import { refuseNoBuild } from '../buildFolder.ts';
import { printJson, printLine } from '../print.ts';
import { stopOnInterrupt } from '../progress.ts';

/** The port given is no number. */
export class PortError extends Error {
  override name = 'PortError';
}

export interface ServeOptions {
  port?: string;
  browser?: boolean;
  json?: boolean;
}

export function open(): Command {
  return new Command('open')
    .description('serve the workbench of a build to a browser on this machine, until Ctrl-C')
    .argument('[build]', 'folder of the build', '.')
    .option('--port <number>', 'loopback port; any free one if not given')
    .option('--no-browser', 'do not start a browser')
    .option('--json', 'print the address as JSON')
    .addHelpText('after', '\nExample:\n  bywright open demo')
    .action((folder: string, options: ServeOptions) => serve(folder, options));
}

/** Serves until interrupted. The address is printed; a browser is started where there seems to be a screen. */
export async function serve(folder: string, options: ServeOptions): Promise<void> {
  const stop = stopOnInterrupt();
  refuseNoBuild(folder, (await loadBuild(folder)).problems);
  const { startServer } = await import('../../server/start.ts');
  const running = await startServer(folder, options.port === undefined ? {} : { port: portOf(options.port) });
  if (options.json) printJson({ form: 'serving/1', url: running.url });
  else printLine(`Workbench: ${running.url}  (this machine only; Ctrl-C ends it)`);
  if (options.browser !== false) startBrowser(running.url);
  await new Promise<void>((resolve) => {
    if (stop.aborted) resolve();
    stop.addEventListener('abort', () => resolve(), { once: true });
  });
  await running.close();
}

function portOf(text: string): number {
  if (/^\d+$/.test(text)) return Number(text);
  throw new PortError(`"${text}" is no port: choose one from 1024 to 65535`);
}

function startBrowser(url: string): void {
  const screen = process.platform !== 'linux' || process.env['DISPLAY'] || process.env['WAYLAND_DISPLAY'];
  if (!screen || process.env['CI']) return;
  const [command, ...args] =
    process.platform === 'darwin'
      ? ['open', url]
      : process.platform === 'win32'
        ? ['cmd', '/c', 'start', '', url]
        : ['xdg-open', url];
  const child = spawn(command as string, args, { stdio: 'ignore', detached: true });
  // No browser to be had is no error: the address stands above.
  child.once('error', () => {});
  child.unref();
}
