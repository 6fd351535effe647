/**
 * What a write stage owes its receivers, as a logic program that watches only what it sends. Each obligation is an
 * output pair: whenever `when` is true, `must` is. Proof, simulation and tests of the C can all run it beside the stage.
 */
import { counterAfter } from '../logic/blocks.ts';
import { ProgramBuilder } from '../logic/builder.ts';
import { extract } from '../logic/fields.ts';
import type { NodeId, Program } from '../logic/form.ts';
import { checkNodes, unsignedField } from './checkNodes.ts';
import type { WriteStage } from './writes.ts';

export interface WriteObligation {
  name: string;
  sentence: string;
  /** Names of the observer's outputs. */
  when: string;
  must: string;
}

export interface WriteObserver {
  /** Inputs: `send` and the bytes, named like the outputs of the write program. */
  program: Program;
  obligations: WriteObligation[];
}

/**
 * Observer of one write stage; no obligation for a message without counter and check field. The counter's obligation
 * speaks of the frame that lies ready in every step, sent or not: so it follows from its own truth one step before.
 */
export function writeObserver({ message }: WriteStage): WriteObserver {
  const { counter, check } = message;
  const b = new ProgramBuilder(`watch_${message.name}`, `Watches what is sent as ${message.name}.`);
  const send = b.inputBool(message.send);
  const bytes = message.bytes.map((name) => b.input(name, 0, 255));
  const obligations: WriteObligation[] = [];
  const owe = (name: string, sentence: string, when: NodeId, must: NodeId) => {
    b.output(`when_${name}`, when);
    b.output(`must_${name}`, must);
    obligations.push({ name, sentence, when: `when_${name}`, must: `must_${name}` });
  };
  const now = counter ? extract(b, bytes, unsignedField(counter)) : null;
  if (check) {
    const right = checkNodes(b, check, message.id, bytes, now);
    const held = extract(b, bytes, unsignedField(check));
    const sentence = `Every ${message.name} that is sent carries a right check field.`;
    owe('check', sentence, send, b.and(b.eq(held, right.value), right.possible));
  }
  if (counter && now !== null) {
    const rule = { bits: counter.length, step: counter.step, skip: counter.skip };
    const last = b.state('seen_counter', 0, 2 ** counter.length - 1, 0, 'counter of the last frame sent');
    const known = b.stateBool('seen_any', false, 'a frame was sent');
    b.next(last, b.select(send, now, last));
    b.next(known, b.or(known, send));
    const sentence = `The counter of ${message.name} goes on by one value of its circle with every frame sent.`;
    owe('counter', sentence, known, b.eq(now, counterAfter(b, last, rule)));
    const allowed = counter.skip.map((v) => b.not(b.eq(now, b.const(v))));
    const never = `The counter of ${message.name} never shows a value that it skips.`;
    const always = b.bool(true);
    if (allowed.length > 0) owe('counter_skip', never, always, b.and(...(allowed as [NodeId, ...NodeId[]])));
  }
  return { program: b.finish(), obligations };
}
