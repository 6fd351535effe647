/** What stands at the head of every generated file: what it is, whether it can move anything, where it comes from. */
import type { Gateway } from '../bridge/gateway.ts';
import { blockComment } from './layout.ts';
import type { Provenance } from './provenance.ts';

/** Armable: the guard's orders go out. Bench: they are held released, whatever the guard computes. */
export type ProjectForm = 'armable' | 'bench';

export function fileHead(what: string, gateway: Gateway, form: ProjectForm, provenance: Provenance): string {
  return blockComment([
    what,
    '',
    formSentence(gateway, form),
    '',
    `Written by ${provenance.tool} from the build "${provenance.title}", hash ${provenance.buildHash}. Changes made here are lost, and are proved by nothing: change the build instead.`,
    'README.md tells what was shown about this code and what was not.',
  ]);
}

/** One sentence on what the project can move. */
export function formSentence(gateway: Gateway, form: ProjectForm): string {
  if (gateway.actuators.length === 0)
    return 'This gateway has no guard and orders no actuator; what it tells other units may still make them act.';
  return form === 'bench'
    ? 'BENCH FORM: every actuator order is held released. The guard computes, but nothing it orders leaves this gateway.'
    : 'ARMABLE FORM: when the driver hands over, this gateway orders an actuator to move. A by-wire car can kill.';
}
