/** Declares the inputs of programs about a guard. */
import type { ProgramBuilder } from '../../logic/builder.ts';
import type { NodeId } from '../../logic/form.ts';
import type { GuardFigures } from '../figures.ts';
import { type CountUnit, guardInputs } from '../inputs.ts';

/** Nodes of a guard's inputs by name. */
export type Inputs = (name: string) => NodeId;

export function declareInputs(b: ProgramBuilder, f: GuardFigures): Inputs {
  const nodes = new Map([...guardInputs(f)].map(([name, unit]) => [name, declare(b, name, unit)]));
  return (name) => {
    const node = nodes.get(name);
    if (node === undefined) throw new RangeError(`the guard has no input ${name}`);
    return node;
  };
}

function declare(b: ProgramBuilder, name: string, { unit, perCount, lo, hi, meaning }: CountUnit): NodeId {
  const amount = unit && `${perCount === 1 ? '' : `${perCount} `}${unit}`;
  const note = amount ? `${amount}, ${meaning}` : meaning;
  if (unit === 'ms') return b.inputClock(name, note);
  return unit === '' ? b.inputBool(name, note) : b.input(name, lo, hi, note);
}
