/** Whether a gateway's parts fit together: what proof and firmware take for granted about it is checked here. */
import type { InputDef, Program } from '../logic/form.ts';
import type { Gateway, Source, Stage } from './gateway.ts';
import { BridgeError } from './problem.ts';

interface Interval {
  type: 'int' | 'bool';
  lo: number;
  hi: number;
}

/**
 * Throws `BridgeError` where a source is missing, of another type, outside the interval of the input that it feeds, or
 * not computed yet when it is read; and where a message's bytes or its "send now" are not what they must be.
 * The interval of each source must lie within the input's: only then does what was proved of one program hold in the whole.
 */
export function checkWiring(gateway: Gateway): void {
  gateway.stages.forEach((stage, index) => {
    const { program, sources } = stage;
    if (sources.length !== program.inputs.length)
      throw new BridgeError(
        `stage ${program.name} has ${sources.length} sources; its program has ${program.inputs.length} inputs`,
      );
    program.inputs.forEach((input, i) => {
      checkInput(gateway, stage, index, input, sources[i] as Source);
    });
  });
  for (const tx of gateway.tx) {
    const program = gateway.stages[tx.stage]?.program;
    if (!program)
      throw new BridgeError(`message ${tx.name} is to come from stage ${tx.stage}, which is not there`);
    if (tx.bytes.length !== tx.length)
      throw new BridgeError(`message ${tx.name} has ${tx.bytes.length} bytes; its length is ${tx.length}`);
    for (const name of tx.bytes) {
      const byte = outputOf(program, name);
      if (byte.type !== 'int' || byte.lo < 0 || byte.hi > 255)
        throw new BridgeError(`${program.name}.${name} is ${text(byte)}; a payload byte is 0 … 255`);
    }
    if (outputOf(program, tx.send).type !== 'bool')
      throw new BridgeError(`${program.name}.${tx.send} says when to send and must be a truth value`);
  }
}

/** Interval of a program's output. Throws `BridgeError` if there is none of this name. */
export function outputOf(program: Program, name: string): Interval {
  const output = program.outputs.find((o) => o.name === name);
  const node = output && program.nodes[output.node];
  if (!node) {
    const names = program.outputs.map((o) => o.name).join(', ');
    throw new BridgeError(`stage ${program.name} has no output ${name}; it has ${names}`);
  }
  return node;
}

function checkInput(gateway: Gateway, stage: Stage, index: number, input: InputDef, source: Source): void {
  const where = `input ${input.name} of stage ${stage.program.name}`;
  const given = intervalOf(gateway, index, source, where);
  if (given.type !== input.type)
    throw new BridgeError(`${where} is a ${typeName(input.type)}, its source a ${typeName(given.type)}`);
  if (given.lo < input.lo || given.hi > input.hi)
    throw new BridgeError(
      `${where} holds ${text(input)}, its source reaches ${text(given)}; clamp the source or widen the input`,
    );
}

function intervalOf(gateway: Gateway, index: number, source: Source, where: string): Interval {
  switch (source.from) {
    case 'rxByte': {
      const rx = gateway.rx[source.message];
      if (!rx || source.byte >= rx.length)
        throw new BridgeError(
          `${where} reads byte ${source.byte} of received message ${rx?.name ?? source.message}, which is not there`,
        );
      return { type: 'int', lo: 0, hi: 255 };
    }
    case 'rxFresh':
      if (!gateway.rx[source.message])
        throw new BridgeError(`${where} reads received message ${source.message}, which is not there`);
      return { type: 'bool', lo: 0, hi: 1 };
    case 'pin':
      if (!gateway.pins[source.pin])
        throw new BridgeError(`${where} reads pin ${source.pin}, which is not there`);
      return { type: 'bool', lo: 0, hi: 1 };
    case 'clock':
      return { type: 'int', lo: 0, hi: 2 ** 32 - 1 };
    case 'fixed': {
      const input =
        gateway.stages[index]?.program.inputs[gateway.stages[index]?.sources.indexOf(source) ?? 0];
      return { type: input?.type ?? 'int', lo: source.value, hi: source.value };
    }
    case 'stage': {
      const from = gateway.stages[source.stage];
      if (!from || source.stage >= index)
        throw new BridgeError(`${where} reads stage ${source.stage}, which does not run before it`);
      return outputOf(from.program, source.output);
    }
  }
}

function typeName(type: 'int' | 'bool'): string {
  return type === 'int' ? 'number' : 'truth value';
}

function text(interval: { lo: number; hi: number }): string {
  return `${interval.lo} … ${interval.hi}`;
}
