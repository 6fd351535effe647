import { basename } from 'node:path';
import { Command } from 'commander';
import { through } from '../../bridge/through.ts';
import { writeCaptureFile } from '../../build/captureFile.ts';
import { gatewayOf, pinCuesOf } from '../../build/gatewayOf.ts';
import { readCaptures, usableBuild } from '../inputs.ts';
import { refuseToReplace } from '../outputs.ts';
import { counted, grouped, printJson, printLine, printTable } from '../print.ts';
import { stage, stopOnInterrupt } from '../progress.ts';
import { sentByMessage } from '../sent.ts';
import { tellUnheard } from '../unheard.ts';

/** The build has nothing to send; the message says why. */
export class NothingToSendError extends Error {
  override name = 'NothingToSendError';
}

export function bridge(): Command {
  return new Command('bridge')
    .description('run a capture through the gateway of a build and write what it would send')
    .argument('<build>', 'folder of the build')
    .argument('<capture>', 'recording; cues of its cue sheet that bear the name of a pin press it')
    .argument(
      '<out>',
      'recording to write, replaced if it is there; its ending says the format, .pcapng keeps all',
    )
    .option('--columns <names>', 'columns of a text capture where the guess is wrong')
    .option('--json', 'print what was sent as JSON')
    .addHelpText('after', '\nExample:\n  bywright bridge demo demo/captures/bench-1.pcapng sent.pcapng')
    .action(
      async (folder: string, path: string, out: string, options: { columns?: string; json?: boolean }) => {
        const signal = stopOnInterrupt();
        const build = await usableBuild(folder);
        const gateway = gatewayOf(build);
        if (gateway.tx.length === 0) {
          throw new NothingToSendError(
            `${folder}: the gateway of this build sends nothing, because ${build.bridge || build.guard ? 'its bridge.yaml has no route and it has no guard.yaml' : 'it has neither bridge.yaml nor guard.yaml'}; nothing was written`,
          );
        }
        await refuseToReplace(out, [path]);
        const { capture } = await readCaptures([path], { columns: options.columns, signal });
        tellUnheard('the gateway', gateway.rx, capture, path);
        const step = stage('Bridging');
        const pins = pinCuesOf(build, gateway, basename(path));
        const sent = through(gateway, capture, { pins, signal, progress: (share) => step.update(share) });
        signal.throwIfAborted();
        await writeCaptureFile(out, sent, undefined, undefined, { signal });
        step.done(`${counted(sent.count, 'frame')} would be sent, written to ${out}`);
        const rows = sentByMessage(gateway, sent);
        if (options.json)
          return printJson({ form: 'sent/1', capture: path, out, frames: sent.count, messages: rows });
        const busName = (n: number) => build.buses.find((b) => b.number === n)?.name ?? String(n);
        printTable(
          ['bus', 'id', 'message', 'frames'],
          rows.map((r) => [busName(r.bus), r.id, r.name, grouped(r.frames)]),
        );
        printLine('\nComputed, not sent: nothing has left this machine.');
      },
    );
}
