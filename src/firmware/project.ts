/** A gateway as a project of C files for a microcontroller. */
import type { Gateway } from '../bridge/gateway.ts';
import { releasedGateway } from '../bridge/released.ts';
import { checkWiring } from '../bridge/wiring.ts';
import { codeText } from './code.ts';
import { fileHead, type ProjectForm } from './head.ts';
import { headerText } from './header.ts';
import { layoutOf } from './layout.ts';
import { makefileText } from './makefile.ts';
import { armingRefusals, type Provenance, sha256 } from './provenance.ts';
import { readmeText } from './readme.ts';
import { traceCode, traceHeader } from './trace.ts';

/** The fixed files of every project, in `runtime/`; whoever writes a project reads them and passes their text in. */
export const RUNTIME_FILES = ['port.h', 'main.c', 'port_host.c'] as const;

export type RuntimeText = Record<(typeof RUNTIME_FILES)[number], string>;

export interface ProjectFile {
  /** Relative to the project's folder. */
  path: string;
  content: string;
}

/** No project was written: why, one sentence per reason. */
export class FirmwareError extends Error {
  override name = 'FirmwareError';
  readonly reasons: string[];

  constructor(message: string, reasons: string[]) {
    super(message);
    this.reasons = reasons;
  }
}

/**
 * The files of the project. `bench` holds every actuator output released; `armable` lets the guard's orders out, and is
 * refused (`FirmwareError`, with `armingRefusals` as reasons) unless every obligation of every guard is proved of this
 * very program. The same input gives the same files, byte for byte.
 */
export function firmwareProject(
  gateway: Gateway,
  form: ProjectForm,
  provenance: Provenance,
  runtime: RuntimeText,
): ProjectFile[] {
  if (form === 'armable') {
    const reasons = armingRefusals(gateway, provenance);
    if (reasons.length > 0)
      throw new FirmwareError(
        `no armable project is written: ${reasons[0]}${reasons.length > 1 ? ` (and ${reasons.length - 1} more)` : ''}; the bench form can be`,
        reasons,
      );
  }
  const written = writtenGateway(gateway, form);
  checkWiring(written);
  const layout = layoutOf(written);
  const head = (what: string) => fileHead(what, written, form, provenance);
  const files: ProjectFile[] = [
    { path: 'gateway.h', content: headerText(layout, head('What the gateway knows and does.')) },
    {
      path: 'gateway.c',
      content: codeText(layout, head('The programs of the gateway and how they are joined.')),
    },
    { path: 'gateway_trace.h', content: traceHeader(written, head('Every value of a step by name.')) },
    { path: 'gateway_trace.c', content: traceCode(written, head('Every value of a step by name.')) },
    ...RUNTIME_FILES.map((path) => ({ path, content: runtime[path] })),
    { path: 'Makefile', content: makefileText() },
  ];
  const hashes = files.map(({ path, content }): [string, string] => [path, sha256(content)]);
  return [{ path: 'README.md', content: readmeText(layout, form, provenance, hashes) }, ...files];
}

/** The gateway that a project of this form computes, for those who run it beside the C. */
export function writtenGateway(gateway: Gateway, form: ProjectForm): Gateway {
  return form === 'bench' ? releasedGateway(gateway) : gateway;
}
