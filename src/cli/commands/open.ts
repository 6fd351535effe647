import { spawn } from 'node:child_process';
import { Command } from 'commander';
import { startServer } from '../../server/start.ts';
import { printJson, printLine } from '../print.ts';

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
  const running = await startServer(folder, options.port === undefined ? {} : { port: Number(options.port) });
  if (options.json) printJson({ form: 'serving/1', url: running.url });
  else printLine(`Workbench: ${running.url}  (this machine only; Ctrl-C ends it)`);
  if (options.browser !== false) startBrowser(running.url);
  await new Promise<void>((resolve) => {
    process.once('SIGINT', resolve);
    process.once('SIGTERM', resolve);
  });
  await running.close();
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
