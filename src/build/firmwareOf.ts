/** The firmware project of a build: its gateway, and what was proved of it, as far as the kept proof is of today's guard. */

import type { ProjectForm } from '../firmware/head.ts';
import { firmwareProject, type ProjectFile } from '../firmware/project.ts';
import type { Provenance } from '../firmware/provenance.ts';
import { loadProof } from './evidence.ts';
import { runtimeText } from './firmwareFiles.ts';
import { gatewayOf } from './gatewayOf.ts';
import type { Build } from './model.ts';
import { buildRevision } from './revision.ts';
import { toolVersion } from './version.ts';

/**
 * The files of the project, not written yet.
 * @throws FirmwareError where the armable form is asked for and an obligation is not proved of this very program.
 */
export async function firmwareOf(build: Build, form: ProjectForm): Promise<ProjectFile[]> {
  return firmwareProject(gatewayOf(build), form, await provenanceOf(build), await runtimeText());
}

async function provenanceOf(build: Build): Promise<Provenance> {
  const kept = await loadProof(build.folder, build);
  return {
    tool: `Bywright ${toolVersion()}`,
    title: build.file.title,
    buildHash: await buildRevision(build.folder),
    proofs: kept
      ? [
          {
            program: kept.form.program,
            programHash: kept.form.hash,
            obligations: kept.form.obligations,
            ...(kept.form.remembered && { remembered: kept.form.remembered }),
          },
        ]
      : [],
  };
}
