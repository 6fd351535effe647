/** Writing: a program per sent message that counts, checks and lays out the bytes. */
import { rawRange } from '../can/bits.ts';
import type { Message, Signal } from '../dictionary/model.ts';
import { counter as sendCounter } from '../logic/blocks.ts';
import { ProgramBuilder } from '../logic/builder.ts';
import { type Field, pack } from '../logic/fields.ts';
import type { NodeId, Program } from '../logic/form.ts';
import { checkNodes, unsignedField } from './checkNodes.ts';
import { counterValues } from './supported.ts';

export interface WrittenSignal {
  signal: Signal;
  /** Name of the program's input with the raw value. */
  input: string;
}

/**
 * Program that writes one message. Inputs: `trigger`, then one raw value per signal (its field's full range). Outputs:
 * `send`, true in the steps with a trigger, and `byte_0` … The counter starts at its first value and moves on after
 * each frame; the check field is right in every step. Bits that belong to no signal given are 0.
 */
export function writeProgram(name: string, message: Message, signals: readonly WrittenSignal[]): Program {
  const b = new ProgramBuilder(name, `Writes ${message.name}: ${contents(message)}.`);
  const trigger = b.inputBool('trigger', '1 = send in this step');
  const fields: { field: Field; value: NodeId }[] = signals.map(({ signal, input }) => {
    const { lo, hi } = rawRange(signal.length, signal.signed);
    return { field: signal, value: b.input(input, lo, hi, `raw value of ${signal.name}`) };
  });
  const { counter, check } = message;
  let count: NodeId | null = null;
  if (counter) {
    const init = counterValues(counter)[0] ?? 0;
    const rule = { bits: counter.length, step: counter.step, skip: counter.skip };
    count = sendCounter(b, 'counter', trigger, { ...rule, init, note: 'counter of the next frame' });
    fields.push({ field: unsignedField(counter), value: count });
  }
  let bytes = pack(b, message.length, fields);
  if (check) {
    const value = b.named('check', checkNodes(b, check, message.id, bytes, count).value);
    bytes = pack(b, message.length, [...fields, { field: unsignedField(check), value }]);
  }
  b.output('send', trigger, '1 = send now');
  bytes.forEach((byte, i) => {
    b.output(`byte_${i}`, byte, `payload byte ${i}`);
  });
  return b.finish();
}

function contents(message: Message): string {
  const parts = ['signals'];
  if (message.counter) parts.push('counter');
  if (message.check) parts.push('check field');
  return parts.length === 1 ? 'its signals' : `${parts.slice(0, -1).join(', ')} and ${parts.at(-1)}`;
}
